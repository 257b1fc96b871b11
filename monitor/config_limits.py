"""What the owner changes of the conditions: limits, deadbands, delays, priorities, or none of it.

    [limits.bank-hot]                   # the whole site
    limit_celsius = 45
    priority = "medium"

    [banks.house.limits.bank-cold]      # one bank; sources likewise
    off = true

A limit and its deadband carry their row's own unit in the key, so that volts are never taken for
volts per cell. Of one bank, whose cells are known, the limits of its voltage may also be given as
a meter at its posts shows them: `limit_volts` instead of `limit_volts_per_cell`. The rows are the
engine's own table: what is not there cannot be moved.
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
#: Rows that judge the volts of the whole bank, by the cell; other rows per cell judge single cells
#: or differences between them.
WHOLE_BANK: Final = frozenset({"over-voltage", "under-voltage", "under-voltage-at-rest"})


_DELAY: Final = number(
    "seconds from 0 to a week, 604800", 0.0, LONGEST_SECONDS, "it is in seconds: 60 is a minute"
)
_ALWAYS: Final[Mapping[str, Key]] = {
    "on_delay_seconds": _DELAY,
    "off_delay_seconds": _DELAY,
    "priority": one_of('"low", "medium" or "high"', PRIORITIES),
    "off": Key("true or false", truth),
}


def keys_of(row: Condition[Any], cells: int | None = None) -> dict[str, Key]:
    """What may be changed of a row, by the key that the file must use.

    With the `cells` of the bank also in its own volts, where the row judges the whole of it.
    """
    keys = dict(_ALWAYS)
    if row.unit:
        low, high = row.possible
        unit = row.unit.replace("_", " ")
        keys[f"limit_{row.unit}"] = number(f"{unit} from {low:g} to {high:g}", low, high)
        span = high - low
        keys[f"deadband_{row.unit}"] = number(f"{unit} from 0 to {span:g}", 0.0, span)
        if cells is not None and row.name in WHOLE_BANK:
            bank = "volts of the whole bank from"
            low, high, span = low * cells, high * cells, span * cells
            keys["limit_volts"] = number(f"{bank} {low:g} to {high:g}", low, high)
            keys["deadband_volts"] = number(f"{bank} 0 to {span:g}", 0.0, span)
    return keys


def read_limits(
    given: Mapping[str, object],
    path: Path,
    problems: Problems,
    rows: Rows = ALL_ROWS,
    target: str | None = None,
    chemistry: str | None = None,
    cells: int | None = None,
) -> tuple[Override, ...]:
    """The changes of one table of limits; what cannot be becomes a problem.

    `chemistry` and `cells` are those of the bank that `target` names, where they are known.
    """
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
            found.append(_override(row, table, where, problems, target, cells))
    return tuple(found)


def _override(
    row: Condition[Any],
    table: Mapping[str, object],
    path: Path,
    problems: Problems,
    target: str | None,
    cells: int | None,
) -> Override:
    keys = keys_of(row, cells)
    known = {}
    for name, value in table.items():
        part = name.partition("_")[0]
        if name in keys or part not in ("limit", "deadband"):
            known[name] = value
        elif row.unit:
            right, advice = f"{part}_{row.unit}", f"{row.name} is in this"
            if row.name in WHOLE_BANK and name == f"{part}_volts":
                advice += f"; {name}, of the whole bank, goes into [banks.NAME.limits.{row.name}]"
            problems.add((*path, name), right, f'the unknown "{name}"', advice)
        else:
            problems.add((*path, name), "no limit", "one", f"{row.name} is a yes or no")
    values = read_table(known, keys, path, problems)
    limit, deadband = (
        _by_cell(values, part, row.unit, cells, path, problems) for part in ("limit", "deadband")
    )
    return Override(
        condition=row.name,
        target=target,
        limit=limit,
        deadband=deadband,
        on_delay_seconds=values.get("on_delay_seconds"),
        off_delay_seconds=values.get("off_delay_seconds"),
        priority=values.get("priority"),
        off=values.get("off"),
    )


def _by_cell(
    values: Mapping[str, Any],
    part: str,
    unit: str,
    cells: int | None,
    path: Path,
    problems: Problems,
) -> float | None:
    """A limit or deadband in the row's own unit: 14.8 volts of a bank of 6 cells -> 2.4667."""
    own, whole = f"{part}_{unit}", f"{part}_volts"
    if cells is None or own == whole or whole not in values:
        return values.get(own)
    if own in values:
        problems.add((*path, whole), f"{own} or {whole}", "both", "leave one of the two")
    return float(values[whole]) / cells
