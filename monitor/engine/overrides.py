"""The table of conditions as the owner wants it: his limits in place of ours, rows switched off.

What he says of the whole site counts first, then what he says of one bank or source. A limit of
his own is said to be his wherever it is told.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import fields, replace
from typing import Any, TypeVar

from monitor.bank import Override, Site
from monitor.engine.condition import Condition
from monitor.engine.snapshot import Priority

W = TypeVar("W")


def adjusted(table: Sequence[Condition[W]], site: Site, *targets: str) -> tuple[Condition[W], ...]:
    """The rows for these targets, the wider first; what is switched off is left out."""
    rows = []
    for row in table:
        changed = _changed(row.name, site, targets)
        if not changed.off:
            rows.append(_applied(row, changed))
    return tuple(rows)


def switched_off(table: Iterable[Condition[Any]], site: Site, *targets: str) -> tuple[str, ...]:
    """The names of the rows that the owner does not want judged."""
    return tuple(row.name for row in table if _changed(row.name, site, targets).off)


def _changed(name: str, site: Site, targets: Sequence[str]) -> Override:
    """All that is said of a row, the narrower over the wider."""
    merged = Override(name)
    for target in (None, *targets):
        for override in site.overrides:
            if override.condition == name and override.target == target:
                said = {
                    field.name: value
                    for field in fields(override)
                    if (value := getattr(override, field.name)) is not None
                }
                merged = replace(merged, **said)
    return merged


def _applied(row: Condition[W], changed: Override) -> Condition[W]:
    news: dict[str, Any] = {}
    if changed.limit is not None:
        unit = row.unit.replace("_", " ")
        news["limit"] = _always(changed.limit)
        news["source"] = f"the config, limits.{row.name}: {changed.limit:g} {unit}"
    if changed.deadband is not None:
        news["deadband"] = changed.deadband
    if changed.on_delay_seconds is not None:
        news["on_delay"] = changed.on_delay_seconds
    if changed.off_delay_seconds is not None:
        news["off_delay"] = changed.off_delay_seconds
    if changed.priority is not None:
        news["priority"] = Priority(changed.priority)
    return replace(row, **news) if news else row


def _always(limit: float) -> Callable[[Any], float]:
    return lambda _: limit
