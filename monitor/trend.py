"""The last hours in columns: what the strip charts draw.

A store of fixed bins per bank, filled from the engine's `Glance` at every step, so that a chart
of any width costs the same and a spike between two columns is not lost.
"""

from __future__ import annotations

from dataclasses import dataclass

from monitor.engine.snapshot import Stage


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a chart; figures are None where nothing was measured in its time.

    Means, except where named low or high; `stage` is the one that held longest.
    """

    seconds: float
    volts: float | None = None
    volts_low: float | None = None
    volts_high: float | None = None
    amps: float | None = None
    amps_low: float | None = None
    amps_high: float | None = None
    celsius: float | None = None
    soc: float | None = None
    stage: Stage | None = None


@dataclass(frozen=True, slots=True)
class Trend:
    """Columns from `start` to `end` monotonic seconds, oldest first, all equally wide."""

    start: float
    end: float
    columns: tuple[Column, ...]
