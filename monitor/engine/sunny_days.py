"""What the sun gave, day by day: are the panels covered, or is it only dull?

A dull day, or three, is weather. Four days in a row that each give less than a fifth of the best
of the last weeks are snow, leaves, a blown fuse or a bad panel, or a deep winter: worth a look at
the roof. A day on which the bank was full for long tells only that there was at least so much.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.engine.minute import Minute
from monitor.engine.snapshot import Stage

DAY_SECONDS: Final = 86400.0
#: Days that are remembered, and the weak ones in a row.
MEMORY_DAYS: Final = 21
WEAK_DAYS: Final = 4
HELD: Final = frozenset({Stage.ABSORPTION, Stage.FLOAT, Stage.EQUALIZE})
#: Held for longer than this a day is no measure of the sun.
HELD_SECONDS: Final = 1800.0
NO_DAY: Final = -1.0


class SunnyDays:
    """`days` in ampere-hours, newest last, those that do not tell as -1."""

    KEPT: ClassVar[tuple[str, ...]] = ("days", "best", "_seen", "_sum", "_held")
    __slots__ = KEPT

    def __init__(self) -> None:
        self.days: list[float] = []
        #: The best days of the memory, whether they told all or not.
        self.best: list[float] = []
        self._seen = 0.0
        self._sum = 0.0
        self._held = 0.0

    def look(self, minute: Minute) -> None:
        sun = [s.amps for s in minute.sources if s.sun and s.amps is not None]
        if not sun:
            return
        self._seen += minute.elapsed
        self._sum += sum(sun) * minute.hours
        if minute.stage in HELD:
            self._held += minute.elapsed
        if self._seen >= DAY_SECONDS:
            self.days.append(self._sum if self._held < HELD_SECONDS else NO_DAY)
            self.best.append(self._sum)
            del self.days[:-MEMORY_DAYS]
            del self.best[:-MEMORY_DAYS]
            self._seen = self._sum = self._held = 0.0

    @property
    def share(self) -> float | None:
        """The best of the last four days over the best of all; None where they do not tell."""
        last = self.days[-WEAK_DAYS:]
        if len(self.days) <= WEAK_DAYS or NO_DAY in last:
            return None if len(last) < WEAK_DAYS or len(self.days) <= WEAK_DAYS else 1.0
        best = max(self.best)
        return max(last) / best if best > 0.0 else None
