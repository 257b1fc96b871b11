"""What is drawn all the time: the lowest ten minutes of every hour, against what is usual.

Things that switch on and off leave their hours' lows alone; what stays on lifts them. Six hours
make a spell, a week of spells what is usual. Their highest low counts as usual, since a table used
from morning to evening lifts the low of one spell each day and is no fault.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank
from monitor.engine.minute import Minute

TEN_MINUTES: Final = 600.0
HOUR_SECONDS: Final = 3600.0
#: Minutes of an hour in which loads were known that make it count.
LEAST_TENS: Final = 3
SPELL_HOURS: Final = 6
#: Spells that are remembered (a week), and that must be known before anything is unusual (a day).
MEMORY_SPELLS: Final = 28
LEAST_SPELLS: Final = 4
#: Hours for which something must have been on to count as standing (our choice: two spells), or, if
#: it is large, as left on.
STANDING_HOURS: Final = 12
LARGE_HOURS: Final = 6


class StandingDraw:
    """`usual` watts, None until a day was seen; `lately` the lowest of the last hours."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "_hours",
        "_spells",
        "_late",
        "_unusual",
        "_ten",
        "_sum",
        "_minutes",
        "_hour",
        "_low",
        "_tens",
        "_drained",
    )
    __slots__ = (*KEPT, "_least_watts")

    def __init__(self, bank: Bank, least_rate: float) -> None:
        #: Watts by which a spell is unusual.
        self._least_watts = least_rate * bank.amp_hours * bank.nominal_volts
        #: Lows of the last hours, newest last; of spells that are usual; of those not yet a spell.
        self._hours: list[float] = []
        self._spells: list[float] = []
        self._late: list[float] = []
        self._unusual = 0
        self._ten = 0.0
        self._sum = 0.0
        self._minutes = 0
        self._hour = 0.0
        self._low = 0.0
        self._tens = 0
        self._drained = 0.0

    def look(self, minute: Minute) -> None:
        self._hour += minute.elapsed
        self._drained -= minute.amps * minute.hours
        watts = minute.load_watts
        if watts is not None:
            self._sum += max(0.0, watts)
            self._minutes += 1
            self._ten += minute.elapsed
            if self._ten >= TEN_MINUTES:
                mean = self._sum / self._minutes
                self._low = mean if self._tens == 0 else min(self._low, mean)
                self._tens += 1
                self._ten = self._sum = 0.0
                self._minutes = 0
        if self._hour >= HOUR_SECONDS:
            self._close_hour()

    def _close_hour(self) -> None:
        if self._tens >= LEAST_TENS:
            self._hours.append(self._low)
            del self._hours[:-STANDING_HOURS]
            self._late.append(self._low)
            if len(self._late) >= SPELL_HOURS:
                self._close_spell(min(self._late))
                self._late = []
        self._hour = 0.0
        self._tens = 0

    def _close_spell(self, low: float) -> None:
        """One more spell is usual; one that is not becomes so after a week of nothing else."""
        usual = self.usual
        if usual is not None and low > usual + 0.5 * self._least_watts:
            self._unusual += 1
            if self._unusual < MEMORY_SPELLS:
                return
        self._unusual = 0
        self._spells.append(low)
        del self._spells[:-MEMORY_SPELLS]

    @property
    def usual(self) -> float | None:
        return max(self._spells) if len(self._spells) >= LEAST_SPELLS else None

    def lately(self, hours: int) -> float | None:
        """The lowest of the last so many hours, where they were all seen."""
        return min(self._hours[-hours:]) if len(self._hours) >= hours else None

    def more(self, hours: int) -> float | None:
        """Watts above what is usual that were drawn through all of the last hours."""
        usual, lately = self.usual, self.lately(hours)
        return None if usual is None or lately is None else max(0.0, lately - usual)
