"""When is the bank full? The tail current held for a minute, or the source's own end of absorption.

Net current at or below the end-of-charge current *while the absorption voltage is held*: a few amps
because the sun is low, or a voltage that sags under a load, is not full.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, ClassVar, Final

from monitor.bank import Bank
from monitor.engine.end_current import RECENT_SECONDS, EndCurrent
from monitor.engine.snapshot import Stage

if TYPE_CHECKING:
    from monitor.engine.signal import Signal

TAIL_SECONDS: Final = 60.0  # the tail current is averaged over this
HELD_VOLTS: Final = 0.015  # per cell, under the voltage held: then it is not held
#: The voltage held is followed slowly, so that compensation may lower it (engine cadence, ours).
HELD_SECONDS: Final = 300.0
#: An absorption taken up again within half an hour is the same one (a load or a cloud between).
SAME_ABSORPTION_SECONDS: Final = 1800.0
#: The source's own end counts when float or equalize has lasted so long with a current that an end
#: leaves: a load that pulls the voltage down for a moment looks like an end, too.
END_SECONDS: Final = 60.0
END_RATE: Final = 0.002  # of the label: more below nothing is a load
MORE_RATE: Final = 0.02  # of the label: that much more than before the end, and it is no float
EARLY: Final = 1.25  # beyond the usual end current: an early end is not taken for granted
PASSED: Final = 0.95  # of the current that ended the last absorption
LONG_AGO: Final = -1e9
USUAL_END: Final = 0.02  # of the capacity: where most sources end absorption (common practice)


def end_amps(bank: Bank) -> float:
    """The net current at which this bank counts as full while its voltage is held."""
    least = bank.chemistry.end_of_charge * bank.amp_hours
    told = bank.set_points.end_of_charge_amps
    return least if told is None else max(least, told)


def expected_end_amps(bank: Bank, seen: float | None) -> float:
    """The net current at which this bank's charges end: told, else `seen`, else a fair guess.

    A source may end absorption well above the current that counts as full; most are set to 2 % of
    the capacity or less (common practice), so the middle of that is the guess.
    """
    least = end_amps(bank)
    told = bank.set_points
    if told.end_of_charge_amps is not None or told.absorption_hours is not None:
        return least
    if seen is not None:
        return max(least, seen)
    if told.absorption is not None:
        return least
    return max(least, math.sqrt(least * USUAL_END * bank.amp_hours))


class FullWatch:
    """Follows one absorption after another; `look` is True once for each that reaches full.

    `at_amps` and `at_seconds` say at what current and when; `source_amps` and `source_seconds` are
    the current and the length of the last absorption that the source itself ended.
    """

    KEPT: ClassVar[tuple[str, ...]] = (
        "_absorbed",
        "_absorbed_seconds",
        "_after_seconds",
        "_done",
        "_end",
        "_held_volts",
        "_left_at",
        "_tail_seconds",
        "_was_absorbing",
        "at_amps",
        "at_seconds",
        "at_volts",
        "source_amps",
        "source_seconds",
        "tail_amps",
    )
    __slots__ = (*KEPT, "_cells", "_end_amps", "_label", "_lead", "_wanted_seconds")

    def __init__(self, bank: Bank) -> None:
        self._lead = bank.chemistry.lead  # LFP at its knee is full whatever ended it
        self._cells = bank.cells
        self._label = bank.amp_hours
        self._end_amps = end_amps(bank)
        self._wanted_seconds = bank.set_points.end_of_charge_seconds or TAIL_SECONDS
        self._absorbed = LONG_AGO
        self._absorbed_seconds = 0.0
        self._after_seconds = 0.0
        self._done = False
        self._end = EndCurrent()
        self._held_volts = 0.0
        self._left_at: float | None = None
        self._tail_seconds = 0.0
        self._was_absorbing = False
        self.at_amps = 0.0
        self.at_seconds = 0.0
        self.at_volts = 0.0
        self.source_amps: float | None = None
        self.source_seconds: float | None = None
        self.tail_amps = 0.0

    @property
    def done(self) -> bool:
        """Full was reached in this absorption."""
        return self._done

    @property
    def passed(self) -> bool:
        """This absorption goes on below the current at which the source ended the last one: then
        it was no current that ended it."""
        now, last = self._end.recent, self.source_amps
        return now is not None and last is not None and now < PASSED * last

    @property
    def seconds_left(self) -> float | None:
        """Until this absorption is as long as the last that the source ended; None if over."""
        last = self.source_seconds
        if last is None or self._absorbed_seconds > last:
            return None
        return last - self._absorbed_seconds

    def look(self, signal: Signal, stage: Stage, offset_amps: float) -> bool:
        """One reading; the sensor reads `offset_amps` too many."""
        if stage == Stage.ABSORPTION:
            if not self._was_absorbing:
                self._begin(signal)
            self._was_absorbing = True
            self._left_at = None
            self._absorbed_seconds += signal.elapsed
            self._end.note(signal.elapsed, signal.amps - offset_amps)
            if not self._tail(signal, offset_amps):
                return False
            amps = self._end.newest
            return self._reached(signal.seconds, self.tail_amps if amps is None else amps)
        if self._was_absorbing:
            self._was_absorbing = False
            self._left_at = signal.seconds
            self._after_seconds = 0.0
        if self._left_at is None:
            return False
        return self._leave(signal, stage, offset_amps)

    def _begin(self, signal: Signal) -> None:
        self.tail_amps = signal.amps
        if signal.seconds - self._absorbed > SAME_ABSORPTION_SECONDS:
            self._absorbed_seconds = 0.0
            self._tail_seconds = 0.0
            self._held_volts = 0.0
            self._done = False
            self._end.clear()

    def _leave(self, signal: Signal, stage: Stage, offset_amps: float) -> bool:
        """After absorption: did the source end it? True where that is full, and news.

        Until the voltage has fallen to float a source that ended looks like one that was lost. From
        a current that sources usually end at, it ended; from a larger one only when it gives again.
        """
        left = self._left_at
        if left is None or signal.seconds - left > SAME_ABSORPTION_SECONDS:
            self._left_at = None
            return False
        amps = signal.amps - offset_amps
        if signal.seconds - left < RECENT_SECONDS:
            self._end.note(signal.elapsed, amps)
        before = self._end.amps() if self._lead else self._end.least_amps()
        most = self.tail_amps if before is None else before
        label = self._label
        early = most > EARLY * max(self._end_amps, USUAL_END * label)
        least = END_RATE if early else -END_RATE
        small = (amps >= least * label or not self._lead) and amps <= most + MORE_RATE * label
        if stage == Stage.EQUALIZE or (stage == Stage.FLOAT and small):
            self._after_seconds += signal.elapsed
        if self._after_seconds < END_SECONDS:
            return False
        self._left_at = None
        self.source_amps = max(most, 0.0)
        self.source_seconds = self._absorbed_seconds
        return self._reached(left, self.source_amps)

    def _reached(self, seconds: float, amps: float) -> bool:
        if self._done:
            return False
        self._done = True
        self.at_seconds = seconds
        self.at_amps = max(amps, 0.0)
        self.at_volts = self._held_volts
        return True

    def _tail(self, signal: Signal, offset_amps: float) -> bool:
        """One reading of absorption; True when the tail current has lasted long enough."""
        self._absorbed = signal.seconds
        gain = min(1.0, signal.elapsed / TAIL_SECONDS)
        self.tail_amps += gain * (signal.amps - offset_amps - self.tail_amps)
        if self._held_volts > 0.0:
            gain = min(1.0, signal.elapsed / HELD_SECONDS)
            self._held_volts += gain * (signal.volts - self._held_volts)
        else:
            self._held_volts = signal.volts
        held = signal.volts > self._held_volts - HELD_VOLTS * self._cells
        before = self._tail_seconds
        if signal.amps - offset_amps <= self._end_amps and held:
            self._tail_seconds = before + signal.elapsed
        elif before < self._wanted_seconds:
            self._tail_seconds = 0.0
        return before < self._wanted_seconds <= self._tail_seconds
