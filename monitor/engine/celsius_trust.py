"""Is the bank's temperature to be believed? A bank is tens of kilograms: it has a speed limit.

A figure that leaps away from where the bank could be is a sensor that came off, or is read
wrongly. It stays distrusted until it comes back to where the bank may be by then, or has said
something ordinary for a day; meanwhile nothing is judged by it, no set-point is moved by it, and
the last one believed stands, ever less surely.
"""

from __future__ import annotations

from typing import ClassVar, Final

#: °C an hour that no bank exceeds: packs with heaters make 10 to 20 (from memory); thermal runaway
#: begins slower than that (physics: 25 kg at 1 kJ/kg K take 200 W for 30 °C an hour).
FASTEST: Final = 30.0
#: A leap from this on is a sensor's, not a bank's (our choice: five sensor steps and a draught).
LEAP: Final = 10.0
#: How far a bank may have gone from where it was last seen: at once, with the hours, and at most
#: (common practice: a degree or two an hour with the air and the charge, half a day's swing).
ROOM: Final = 3.0
DRIFT: Final = 2.0
MOST_ROOM: Final = 15.0
#: After so many hours an ordinary figure is believed again: then the one before was wrong, or the
#: sensor has found another place (our choice).
RETURN_HOURS: Final = 24.0
ORDINARY: Final = (0.0, 45.0)


class CelsiusTrust:
    """`could_be` is where the bank may be, None before the first figure; `leap` by how much the
    last figure is away from it."""

    KEPT: ClassVar[tuple[str, ...]] = ("could_be", "leap", "trusted", "_seconds", "_left")
    __slots__ = KEPT

    def __init__(self) -> None:
        self.could_be: float | None = None
        self.leap = 0.0
        self.trusted = True
        #: When a figure last came, and when the one that is distrusted left.
        self._seconds = 0.0
        self._left = 0.0

    def look(self, seconds: float, celsius: float) -> bool:
        """Take a figure; is it to be believed?"""
        known = self.could_be
        if known is None:
            self.could_be, self._seconds = celsius, seconds
            return True
        if celsius == known and self.trusted:  # as ever: nothing to follow
            self._seconds = seconds
            self.leap = 0.0
            return True
        hours = (seconds - self._seconds) / 3600.0
        self._seconds = seconds
        apart = celsius - known
        if not self.trusted:
            away = (seconds - self._left) / 3600.0
            back = abs(apart) <= max(self.room(seconds), FASTEST * hours)
            ordinary = away >= RETURN_HOURS and ORDINARY[0] <= celsius <= ORDINARY[1]
            if back or ordinary:
                self.trusted, self.could_be, apart = True, celsius, 0.0
            self.leap = apart
            return self.trusted
        most = FASTEST * hours
        moved = min(max(apart, -most), most)
        self.leap = apart - moved
        if abs(self.leap) > LEAP:
            self.trusted, self._left, self.leap = False, seconds, apart
            return False
        self.could_be = known + moved
        return True

    def room(self, seconds: float) -> float:
        """°C by which the bank may be elsewhere than at `could_be` by now."""
        since = self._seconds if self.trusted else self._left
        return min(ROOM + DRIFT * max(0.0, seconds - since) / 3600.0, MOST_ROOM)
