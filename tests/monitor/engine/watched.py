"""What the conditions look at, in order but for the figures that a case changes."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from monitor.bank import SetPoints, Source, SourceKind
from monitor.engine.source import SourceRoom
from monitor.engine.watch import BankWatch, highest_per_cell
from tests.monitor.engine.sites import bank


def watched(
    chemistry: str = "agm", bank_keys: dict[str, Any] | None = None, **figures: Any
) -> BankWatch:
    """A 200 Ah, 12 V bank at rest and in order, with these figures changed.

    `bank_keys` are what its owner says beside; a figure of an inner room is written
    `room__figure`.
    """
    set_points = SetPoints(14.4, 13.6, compensation_mv_per_celsius_per_cell=-4.0)
    if chemistry == "lfp":
        set_points = SetPoints(14.2, 13.5)
    house = bank(chemistry, set_points=set_points)
    watch = BankWatch(replace(house, **(bank_keys or {})))
    defaults = {
        "volts": 12.7,
        "celsius": 25.0,
        "soc": 0.8,
        "soc_sd": 0.03,
        "stage": "rest",
        "probability": 1.0,
    }
    put({**defaults, **figures}, watch)
    watch.read_celsius = watch.celsius
    watch.highest = highest_per_cell(watch)
    return watch


def sourced(source_keys: dict[str, Any] | None = None, **figures: Any) -> SourceRoom:
    """A 40 A charger in order, with these figures changed, as `watched` does."""
    source = Source("shore", "house", SourceKind.AC_CHARGER, 40.0)
    room = SourceRoom(replace(source, **(source_keys or {})), bank(), True)
    put(figures, room)
    return room


def put(figures: dict[str, Any], thing: object) -> None:
    for name, value in figures.items():
        inner, _, figure = name.rpartition("__")
        setattr(getattr(thing, inner) if inner else thing, figure, value)
