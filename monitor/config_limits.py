"""What the owner changes of the conditions: limits, deadbands, delays, priorities, or none of it.

    [limits.bank-hot]                   # the whole site
    limit_celsius = 45
    priority = "medium"

    [banks.house.limits.bank-cold]      # one bank; sources likewise
    off = true

A limit and its deadband carry their row's own unit in the key, so that volts are never taken for
volts per cell. The rows are the engine's own table: what is not there cannot be moved.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from adapters.checked_toml import shown
from monitor.bank import Override
from monitor.config_keys import (
    Key,
    Path,
    Problems,
    nearest,
    number,
    one_of,
    read_table,
    truth,
)
from monitor.engine import conditions
from monitor.engine.condition import Condition

Rows = Mapping[str, Condition[Any]]

BANK_ROWS: Final[Rows] = {row.name: row for row in conditions.BANK}
SOURCE_ROWS: Final[Rows] = {row.name: row for row in conditions.SOURCE}
ALL_ROWS: Final[Rows] = {
    **BANK_ROWS,
    **SOURCE_ROWS,
    **{row.name: row for row in conditions.DEVICE},
    **{row.name: row for row in conditions.SITE},
    **{row.name: row for table in conditions.OWN_LINK.values() for row in table},
}

#: A condition that begins or ends a week late is switched off better (our choice).
LONGEST_SECONDS: Final = 604800.0
PRIORITIES: Final = {"low": 1, "medium": 2, "high": 3}


_DELAY: Final = number(
    "seconds from 0 to a week, 604800", 0.0, LONGEST_SECONDS, "it is in seconds: 60 is a minute"
)
_ALWAYS: Final[Mapping[str, Key]] = {
    "on_delay_seconds": _DELAY,
    "off_delay_seconds": _DELAY,
    "priority": one_of('"low", "medium" or "high"', PRIORITIES),
    "off": Key("true or false", truth),
}


def keys_of(row: Condition[Any]) -> dict[str, Key]:
    """What may be changed of a row, by the key that the file must use."""
    keys = dict(_ALWAYS)
    if row.unit:
        low, high = row.possible
        unit = row.unit.replace("_", " ")
        keys[f"limit_{row.unit}"] = number(f"{unit} from {low:g} to {high:g}", low, high)
        span = high - low
        keys[f"deadband_{row.unit}"] = number(f"{unit} from 0 to {span:g}", 0.0, span)
    return keys


def read_limits(
    given: Mapping[str, object],
    path: Path,
    problems: Problems,
    rows: Rows = ALL_ROWS,
    target: str | None = None,
    chemistry: str | None = None,
) -> tuple[Override, ...]:
    """The changes of one table of limits; what cannot be becomes a problem."""
    found = []
    for name, table in given.items():
        row = rows.get(name)
        where = (*path, name)
        if row is None:
            elsewhere = name in ALL_ROWS and "it belongs in another table, such as [limits]"
            advice = elsewhere or nearest(name, rows)
            problems.add(where, "the name of a condition", f'the unknown "{name}"', advice)
        elif chemistry is not None and chemistry not in row.chemistries:
            kinds = ", ".join(sorted(row.chemistries))
            problems.add(where, f"a condition of {chemistry} banks", f"one of {kinds}", "leave it")
        elif not isinstance(table, Mapping):
            problems.add(where, f"a table, as in [{'.'.join(where)}]", shown(table))
        else:
            found.append(_override(row, table, where, problems, target))
    return tuple(found)


def _override(
    row: Condition[Any],
    table: Mapping[str, object],
    path: Path,
    problems: Problems,
    target: str | None,
) -> Override:
    keys = keys_of(row)
    known = {}
    for name, value in table.items():
        part = name.partition("_")[0]
        if name in keys or part not in ("limit", "deadband"):
            known[name] = value
        elif row.unit:
            right = f"{part}_{row.unit}"
            problems.add((*path, name), right, f'the unknown "{name}"', f"{row.name} is in this")
        else:
            problems.add((*path, name), "no limit", "one", f"{row.name} is a yes or no")
    values = read_table(known, keys, path, problems)
    return Override(
        condition=row.name,
        target=target,
        limit=values.get(f"limit_{row.unit}"),
        deadband=values.get(f"deadband_{row.unit}"),
        on_delay_seconds=values.get("on_delay_seconds"),
        off_delay_seconds=values.get("off_delay_seconds"),
        priority=values.get("priority"),
        off=values.get("off"),
    )
