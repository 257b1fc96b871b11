"""Scales of the trend: round numbers that hold what was measured."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

_ROUND: Final = (1.0, 2.0, 2.5, 5.0)
_FINER: Final = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0)


def _steps(smallest: float, steps: Sequence[float]) -> list[float]:
    """Round numbers from `smallest` on, over six decades."""
    return [smallest * step * 10**power for power in range(6) for step in steps]


class Flow(NamedTuple):
    """Amps into and out of the bank on one scale: `unit` amps a row."""

    unit: float
    rows_in: int
    rows_out: int


def flow(highest: float, lowest: float, rows: int) -> Flow:
    """The finest round scale on which the current from `lowest` to `highest` fits `rows`.

    It may need fewer rows than there are.
    """
    if rows < 2:
        return Flow(max(highest, 1.0), 1, 0)
    for unit in _steps(1.0, _FINER):
        rows_out = max(1, math.ceil(-lowest / unit)) if lowest < 0 else 0
        rows_in = max(1, math.ceil(highest / unit))
        if rows_in + rows_out <= rows:
            return Flow(unit, rows_in, rows_out)
    return Flow(max(highest, -lowest, 1.0), rows - 1, 1)


class Range(NamedTuple):
    low: float
    high: float

    def level(self, figure: float | None) -> float | None:
        if figure is None or self.high <= self.low:
            return None
        return (figure - self.low) / (self.high - self.low)


def volts_range(figures: Sequence[float]) -> Range:
    """Round volts around what was measured: never narrower than 0.4 V, so that noise stays flat."""
    if not figures:
        return Range(0.0, 0.0)
    low, high = min(figures), max(figures)
    middle = (low + high) / 2
    low, high = min(low, middle - 0.2), max(high, middle + 0.2)
    step = next(step for step in _steps(0.1, _ROUND) if (high - low) / step <= 8)
    return Range(math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step)


# Distances between time marks that people count in, in seconds.
_TIMES: Final = (
    300.0,
    600.0,
    900.0,
    1800.0,
    3600.0,
    7200.0,
    10800.0,
    21600.0,
    43200.0,
    86400.0,
    172800.0,
)


def time_step(window: float, marks: int) -> float:
    """The shortest of the usual distances that leaves at most `marks` marks in `window`."""
    return next((step for step in _TIMES if window / step <= max(marks, 1)), _TIMES[-1])
