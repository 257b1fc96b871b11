"""Hours above the gassing voltage in the last day.

Lead-acid gasses above a voltage that falls as it warms. Some hours of that are what a full charge
takes; a bank that gasses for half of every day, whatever its source calls the stage, loses water.
"""

from __future__ import annotations

from itertools import pairwise
from typing import ClassVar, Final

#: Volts per cell at which gassing sets in, by °C (from memory; the curve of the handbooks).
ONSET: Final = (
    (-20.0, 2.97),
    (-10.0, 2.65),
    (0.0, 2.54),
    (10.0, 2.47),
    (20.0, 2.41),
    (25.0, 2.39),
    (30.0, 2.365),
    (40.0, 2.33),
    (50.0, 2.30),
)
HOUR: Final = 3600.0
DAY_HOURS: Final = 24


def onset(celsius: float | None) -> float:
    """Volts per cell at which gassing sets in at this temperature; unknown counts as 25 °C."""
    degrees = 25.0 if celsius is None else celsius
    if degrees <= ONSET[0][0]:
        return ONSET[0][1]
    for (low, low_volts), (high, high_volts) in pairwise(ONSET):
        if degrees <= high:
            return low_volts + (degrees - low) / (high - low) * (high_volts - low_volts)
    return ONSET[-1][1]


class Gassing:
    """`hours` above the gassing voltage within the last 24, kept hour by hour."""

    KEPT: ClassVar[tuple[str, ...]] = ("hours", "_by_hour", "_hour_ends")
    __slots__ = KEPT

    def __init__(self) -> None:
        self.hours = 0.0
        #: Seconds above it, the present hour last.
        self._by_hour = [0.0] * DAY_HOURS
        self._hour_ends: float | None = None

    def look(
        self, seconds: float, volts_per_cell: float, celsius: float | None, elapsed: float
    ) -> None:
        """A minute's mean, `elapsed` judged seconds after the one before."""
        if self._hour_ends is None:
            self._hour_ends = seconds + HOUR
        passed = 0
        while seconds >= self._hour_ends and passed < DAY_HOURS:
            self._by_hour = [*self._by_hour[1:], 0.0]
            self._hour_ends += HOUR
            passed += 1
        if seconds >= self._hour_ends:
            self._hour_ends = seconds + HOUR
        if volts_per_cell > onset(celsius):
            self._by_hour[-1] += elapsed
        self.hours = sum(self._by_hour) / HOUR
