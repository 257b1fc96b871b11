"""How the current tapers while a voltage is held: its time constant and the floor it heads for.

A taper that is exponential towards a floor has a slope that is a straight line in the current:
dI/dt = -(I - floor) / time constant. The line is fitted, with forgetting, to the current and its
slope once a minute; loads that come and go disturb single points, which then are left out.
"""

from __future__ import annotations

from typing import ClassVar, Final

#: Seconds between two points of the line, and points over which the line forgets.
POINT_SECONDS: Final = 60.0
POINTS: Final = 40.0
#: Points needed before the line is believed, and the least spread of amps in C20 (one sensor step).
ENOUGH: Final = 8.0
LEAST_SPREAD: Final = 0.001
#: A time constant outside this is not a bank's (from memory: minutes for LFP, hours for lead).
LEAST_SECONDS: Final = 60.0
MOST_SECONDS: Final = 86400.0


class Taper:
    """`seconds` time constant and `floor` in C20 amps, each None until the line is believed."""

    KEPT: ClassVar[tuple[str, ...]] = ("_due", "_i", "_ii", "_ir", "_r", "_w", "floor", "seconds")
    __slots__ = KEPT

    def __init__(self) -> None:
        self.seconds: float | None = None
        self.floor: float | None = None
        self.clear()

    def clear(self) -> None:
        """Another charge: what the last one did stays known until this one shows its own."""
        self._due = POINT_SECONDS
        self._w = self._i = self._r = self._ii = self._ir = 0.0

    def update(self, elapsed: float, amps: float, slope: float) -> None:
        """A voltage is held; `amps` in C20 and their `slope` a second over the last minutes."""
        self._due -= elapsed
        if self._due > 0.0:
            return
        self._due = POINT_SECONDS
        if slope > 0.0 or amps <= 0.0:
            return
        fade = 1.0 - 1.0 / POINTS
        self._w = fade * self._w + 1.0
        self._i = fade * self._i + amps
        self._r = fade * self._r + slope
        self._ii = fade * self._ii + amps * amps
        self._ir = fade * self._ir + amps * slope
        w = self._w
        spread = self._ii / w - (self._i / w) ** 2
        if w < ENOUGH or spread < LEAST_SPREAD * LEAST_SPREAD:
            return
        rate = -(self._ir / w - self._i * self._r / (w * w)) / spread
        if not 1.0 / MOST_SECONDS < rate < 1.0 / LEAST_SECONDS:
            return
        self.seconds = 1.0 / rate
        floor = self._i / w + self._r / w / rate
        self.floor = min(max(floor, 0.0), amps)
