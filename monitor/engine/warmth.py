"""The bank's temperature under watch: could it be so in its air, does the bank warm by itself?

Against the air, averaged over the hours that a bank takes to follow it, a
sensor can be told that reads what no bank in that air could have; and a full bank in float that
grows warmer than its air turns the float current into heat.
"""

from __future__ import annotations

from typing import ClassVar, Final

#: Hours in which a bank comes two thirds of the way to another air (common practice: a degree an
#: hour for a dozen degrees), and for which the air must have been seen before it is judged.
FOLLOWS_HOURS: Final = 6.0
#: Hours of float before warming counts: what the charge before it left behind has begun to go.
FLOAT_HOURS: Final = 2.0
#: The warming in float that is no sensor's step and no afternoon: where the air is measured, and
#: where it is not (common practice: a compartment swings by half the day's 15 °C).
WARMED: Final = 2.0
WARMED_UNSEEN_AIR: Final = 6.0
#: The air of a coach is hardly ever above this (our choice), where nobody measures it.
USUAL_AIR: Final = 32.0


class Warmth:
    """`off_air` °C away from the air's long mean, `float_excess` above the air while float is held;
    None where it cannot be said."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "air",
        "off_air",
        "float_excess",
        "_seconds",
        "_air_hours",
        "_float_hours",
        "_float_low",
    )
    __slots__ = KEPT

    def __init__(self) -> None:
        self.air: float | None = None
        self.off_air: float | None = None
        self.float_excess: float | None = None
        self._seconds: float | None = None
        self._air_hours = 0.0
        self._float_hours = 0.0
        self._float_low = 0.0

    def look(
        self, seconds: float, celsius: float | None, ambient: float | None, floats: bool
    ) -> None:
        """Once a minute of readings."""
        hours = 0.0 if self._seconds is None else (seconds - self._seconds) / 3600.0
        self._seconds = seconds
        self._follow_air(ambient, hours)
        self._compare(celsius)
        self._watch_float(celsius, floats, hours)

    def _follow_air(self, ambient: float | None, hours: float) -> None:
        if ambient is None:
            self._air_hours = 0.0
            self.air = None
        elif self.air is None:
            self.air = ambient
        else:
            self._air_hours += hours
            self.air += (ambient - self.air) * hours / (hours + FOLLOWS_HOURS)

    def _compare(self, celsius: float | None) -> None:
        air = self.air
        long = air is not None and self._air_hours >= FOLLOWS_HOURS
        self.off_air = celsius - air if long and air is not None and celsius is not None else None

    def _watch_float(self, celsius: float | None, floats: bool, hours: float) -> None:
        if celsius is None:
            self.float_excess = None
            return
        if not floats:
            self._float_hours = 0.0
            self.float_excess = 0.0
            return
        self._float_hours += hours
        if self._float_hours <= FLOAT_HOURS or celsius < self._float_low:
            self._float_low = celsius
        air = self.air
        measured = air is not None and self._air_hours >= FOLLOWS_HOURS
        warmed = celsius - self._float_low >= (WARMED if measured else WARMED_UNSEEN_AIR)
        above = celsius - (air if measured and air is not None else USUAL_AIR)
        self.float_excess = max(0.0, above) if warmed else 0.0
