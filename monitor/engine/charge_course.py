"""How charges go, one after another: in vain, cut short, without float, interrupted.

Each charge is followed through its stages as the filter sees them. What a person does on purpose
(the plug pulled, the generator stopped, the sun gone) ends a charge without being a fault, so only
what a source does while it could go on counts.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank, Chemistry, SourceKind
from monitor.engine.minute import Minute, SourceMinute
from monitor.engine.snapshot import Stage

HELD: Final = frozenset({Stage.ABSORPTION, Stage.FLOAT, Stage.EQUALIZE, Stage.FIXED})
#: A source charges above this, in C20 (a charger that only carries loads may give less).
GIVES_RATE: Final = 0.01
#: Nothing charging for so long ends a charge (a pause for a passing cloud or a switch).
PAUSE_SECONDS: Final = 1800.0
#: Common practice: bulk lasts at most 1.2 times the ampere-hours missing over the amps that go in;
#: within these hours. A charge that gains less than the rate (C20) never ends at all.
BULK_FACTOR: Final = 1.2
SHORTEST_HOURS: Final = 6.0
LONGEST_HOURS: Final = 24.0
NO_GAIN_RATE: Final = 0.005
#: Absorption was cut short where it ended above so many end-of-charge currents and above the rate
#: (common practice: ended at 0.5 to 5 % of C20); one a day counts. Judged by the minutes before.
SHORT_FACTOR: Final = 3.0
SHORT_RATE: Final = 0.05
ONE_A_DAY_SECONDS: Final = 12.0 * 3600.0
BEFORE_SECONDS: Final = 300.0
#: It has done its work below so many end-of-charge currents, or below this rate (common practice).
DONE_RATE: Final = 0.02
#: A charge going on is one above this rate for so long; it was interrupted where its source gives
#: nothing within so many seconds after. Kept for so long.
SOLID_RATE: Final = 0.03
SOLID_SECONDS: Final = 180.0
STOPPED_SECONDS: Final = 180.0
NOTHING_SHARE: Final = 0.005
KEPT_SECONDS: Final = 12.0 * 3600.0
#: There is AC at all above this, volts (half of the lowest nominal voltage).
AC_PRESENT: Final = 50.0


class ChargeCourse:
    """`vain_hours` a source has charged without any voltage held; `cut_short` absorptions in a row
    that ended too early; `floatless_hours` since a finished absorption without float although AC is
    there; `stops` of a charge that was going on; `float_seconds` of the float now, seen or told,
    `fixed_hours` of one voltage held for ever, too high to stay at; what any source says."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "vain_hours",
        "charged",
        "missing",
        "cut_short",
        "short_amps",
        "floatless_hours",
        "float_seconds",
        "fixed_hours",
        "says_float",
        "says_equalize",
        "stops",
        "_pause",
        "_floated",
        "_before_amps",
        "_before_seconds",
        "_short_at",
        "_done",
        "_solid",
        "_since_solid",
    )
    __slots__ = (*KEPT, "_amp_hours", "_cells", "_end_amps", "_fixed_volts", "_sources")

    def __init__(self, bank: Bank) -> None:
        self._amp_hours = bank.amp_hours
        self._cells = bank.cells
        self._end_amps = bank.end_of_charge_amps
        self._fixed_volts = staying_volts(bank.chemistry)
        self.vain_hours = 0.0
        self.charged = 0.0
        self.missing = 0.0
        self.cut_short = 0.0
        self.short_amps = 0.0
        self.floatless_hours = 0.0
        self.float_seconds = 0.0
        self.fixed_hours = 0.0
        self.says_float = False
        self.says_equalize = False
        self.stops: list[float] = []
        self._pause = 0.0
        self._floated = True
        self._before_amps = 0.0
        self._before_seconds = 0.0
        self._short_at: float | None = None
        self._done = False
        self._solid = 0.0
        self._since_solid = 0.0

    def look(self, minute: Minute, shifted_cell: float) -> None:
        """`shifted_cell`: volts per cell, moved to 25 °C."""
        self.says_float = any(source.reported == "float" for source in minute.sources)
        self.says_equalize = any(source.reported == "equalize" for source in minute.sources)
        self._in_vain(minute)
        self._short(minute)
        self._after_full(minute)
        self._interrupted(minute)
        self._fixed(minute, shifted_cell)
        floats = minute.stage == Stage.FLOAT or self.says_float
        self.float_seconds = self.float_seconds + minute.elapsed if floats else 0.0

    # Charged for hours, and no voltage ever held.

    def _in_vain(self, minute: Minute) -> None:
        if minute.stage in HELD and minute.sure:
            self.vain_hours = self.charged = self._pause = 0.0
        elif self._charging(minute):
            if self.vain_hours == 0.0:
                self.missing = max(0.0, 1.0 - minute.soc) * minute.capacity * self._amp_hours
            self.vain_hours += minute.hours
            self.charged += minute.amps * minute.hours
            self._pause = 0.0
        elif self.vain_hours > 0.0:
            self._pause += minute.elapsed
            if self._pause > PAUSE_SECONDS:
                self.vain_hours = self.charged = self._pause = 0.0

    def _charging(self, minute: Minute) -> bool:
        """Does a source other than the sun charge? The sun ends with the day, that is no fault."""
        others = [source for source in minute.sources if not source.sun]
        known = [source.amps for source in others if source.amps is not None]
        if known:
            return sum(known) > GIVES_RATE * self._amp_hours
        return bool(others) and len(others) == len(minute.sources) and minute.stage == Stage.BULK

    @property
    def gain_amps(self) -> float:
        """Net amps over the charge so far."""
        return self.charged / self.vain_hours if self.vain_hours > 0.0 else 0.0

    @property
    def longest_bulk(self) -> float:
        """Hours that bulk may take at the rate at which it goes."""
        gain = self.gain_amps
        if gain < NO_GAIN_RATE * self._amp_hours:
            return SHORTEST_HOURS
        return min(max(BULK_FACTOR * self.missing / gain, SHORTEST_HOURS), LONGEST_HOURS)

    # Float that begins while the bank still takes much.

    def _short(self, minute: Minute) -> None:
        if minute.stage == Stage.FLOAT or self.says_float:
            self._judge_end(minute)
            return
        if self._floated:
            self._floated = False
            self._before_amps = minute.amps
            self._before_seconds = 0.0
        gain = minute.elapsed / (minute.elapsed + BEFORE_SECONDS)
        self._before_amps += gain * (minute.amps - self._before_amps)
        charging = minute.stage in (Stage.BULK, Stage.ABSORPTION, Stage.FIXED)
        charging = charging and not _by_sun(minute)  # a cloud leaves the bank to another's float
        self._before_seconds = self._before_seconds + minute.elapsed if charging else 0.0

    def _judge_end(self, minute: Minute) -> None:
        """Float began: at what current, if a charge went before it?"""
        if self._floated:
            return
        self._floated = True
        if self._before_seconds < BEFORE_SECONDS:
            return
        least = max(SHORT_FACTOR * self._end_amps, SHORT_RATE * self._amp_hours)
        if self._before_amps <= least:
            self.cut_short = 0.0
            self._short_at = None
            return
        self.short_amps = self._before_amps
        if self._short_at is None or minute.seconds - self._short_at > ONE_A_DAY_SECONDS:
            self._short_at = minute.seconds
            self.cut_short += 1.0

    # After absorption has done its work, with AC there, the source should go on holding.

    def _after_full(self, minute: Minute) -> None:
        least = max(SHORT_FACTOR * self._end_amps, DONE_RATE * self._amp_hours)
        if minute.stage in HELD:
            self._done = minute.stage != Stage.FIXED and minute.amps <= least
            self.floatless_hours = 0.0
        elif minute.stage == Stage.BULK and minute.sure:
            self._done = False
            self.floatless_hours = 0.0
        fed = any(s.ac_volts is not None and s.ac_volts > AC_PRESENT for s in minute.sources)
        if not (self._done and fed):
            self.floatless_hours = 0.0
        elif all(s.silent or s.says_off or s.sun for s in minute.sources):
            self.floatless_hours += minute.hours

    # A charge that was going on, and then its source gave nothing.

    def _interrupted(self, minute: Minute) -> None:
        while self.stops and minute.seconds - self.stops[0] > KEPT_SECONDS:
            del self.stops[0]
        amps = [s.amps for s in minute.sources if s.amps is not None and _goes_on(s)]
        if not amps:
            self._solid = 0.0
            return
        given, rate = sum(amps), minute.amps / self._amp_hours
        if given > SOLID_RATE * self._amp_hours and rate > SOLID_RATE:
            self._solid += minute.elapsed
            self._since_solid = 0.0
            return
        self._since_solid += minute.elapsed
        if given < NOTHING_SHARE * self._amp_hours and self._solid >= SOLID_SECONDS:
            if self._since_solid <= STOPPED_SECONDS:
                self.stops.append(minute.seconds)
            self._solid = 0.0
        elif self._since_solid > STOPPED_SECONDS:
            self._solid = 0.0

    # One voltage held for ever, and too high for that.

    def _fixed(self, minute: Minute, shifted_cell: float) -> None:
        one = minute.stage == Stage.FIXED or any(
            s.reported == "fixed" or (s.kind is SourceKind.FIXED and not s.silent)
            for s in minute.sources
        )
        if one and shifted_cell > self._fixed_volts:
            self.fixed_hours += minute.hours
        elif self.fixed_hours > 0.0:  # loads may pull it down for a while
            self.fixed_hours = max(0.0, self.fixed_hours - 2.0 * minute.hours)


def staying_volts(chemistry: Chemistry) -> float:
    """Volts per cell above which a bank cannot stay for ever.

    Half way from the highest float to gassing: power supplies of 13.8 V are common and do no quick
    harm. LFP does not gas: 1.5 % above its highest float (charger and meter, common practice).
    """
    highest, gassing = chemistry.float_.high, chemistry.gassing_volts
    return 1.015 * highest if gassing is None else 0.5 * (highest + gassing)


def _goes_on(source: SourceMinute) -> bool:
    """Would it go on charging by itself? Not the sun, nor an engine that is turned off."""
    if source.kind in (SourceKind.SOLAR, SourceKind.ALTERNATOR, SourceKind.DC_DC):
        return False
    return source.ac_volts is None or source.ac_volts > AC_PRESENT


def _by_sun(minute: Minute) -> bool:
    """Does the sun give more than all other sources?"""
    sun = sum(source.amps or 0.0 for source in minute.sources if source.sun)
    return sun > sum(source.amps or 0.0 for source in minute.sources if not source.sun)
