"""When is the bank full? The tail current held for a minute, or the source's own end of absorption.

Net current at or below the end-of-charge current *while the absorption voltage is held*: a few amps
because the sun is low, or a voltage that sags under a load, is not full.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, ClassVar, Final

from monitor.bank import Bank
from monitor.engine.snapshot import Stage

if TYPE_CHECKING:
    from monitor.engine.signal import Signal

TAIL_SECONDS: Final = 60.0  # the tail current is averaged over this
HELD_VOLTS: Final = 0.015  # per cell, under the voltage held: then it is not held
#: The voltage held is followed slowly, so that compensation may lower it (engine cadence, ours).
HELD_SECONDS: Final = 300.0
#: An absorption taken up again within half an hour is the same one (a load or a cloud between).
SAME_ABSORPTION_SECONDS: Final = 1800.0
LONG_AGO: Final = -1e9
USUAL_END: Final = 0.02  # of the capacity: where most sources end absorption (common practice)


def end_amps(bank: Bank) -> float:
    """The net current at which this bank counts as full while its voltage is held."""
    least = bank.chemistry.end_of_charge * bank.amp_hours
    told = bank.set_points.end_of_charge_amps
    return least if told is None else max(least, told)


def expected_end_amps(bank: Bank, seen: float | None) -> float:
    """The net current at which this bank's charges end: told, else seen, else a fair guess.

    A source may end absorption well above the current that counts as full; most are set to 2 % of
    the capacity or less (common practice), so the middle of that is the guess.
    """
    least = end_amps(bank)
    if seen is not None:
        return max(least, seen)
    if bank.set_points.absorption is not None:
        return least
    return max(least, math.sqrt(least * USUAL_END * bank.amp_hours))


class FullWatch:
    """Follows one absorption after another; `look` is True once for each that reaches full."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "_absorbed",
        "_done",
        "_held_volts",
        "_tail_seconds",
        "_was_absorbing",
        "tail_amps",
    )
    __slots__ = KEPT

    def __init__(self) -> None:
        self._absorbed = LONG_AGO
        self._done = False
        self._held_volts = 0.0
        self._tail_seconds = 0.0
        self._was_absorbing = False
        self.tail_amps = 0.0

    @property
    def done(self) -> bool:
        """Full was reached in this absorption."""
        return self._done

    def look(
        self,
        signal: Signal,
        stage: Stage,
        offset_amps: float,
        end_amps: float,
        cells: int,
        wanted_seconds: float,
    ) -> bool:
        absorbing = stage == Stage.ABSORPTION
        ended = self._was_absorbing and stage in (Stage.FLOAT, Stage.EQUALIZE)
        if absorbing and not self._was_absorbing:
            self.tail_amps = signal.amps
            if signal.seconds - self._absorbed > SAME_ABSORPTION_SECONDS:
                self._tail_seconds = 0.0
                self._held_volts = 0.0
                self._done = False
        self._was_absorbing = absorbing
        if absorbing:
            ended = self._tail(signal, offset_amps, end_amps, cells, wanted_seconds)
        if ended and not self._done:
            self._done = True
            return True
        return False

    def _tail(
        self,
        signal: Signal,
        offset_amps: float,
        end_amps: float,
        cells: int,
        wanted_seconds: float,
    ) -> bool:
        """One reading of absorption; True when the tail current has lasted long enough."""
        self._absorbed = signal.seconds
        gain = min(1.0, signal.elapsed / TAIL_SECONDS)
        self.tail_amps += gain * (signal.amps - offset_amps - self.tail_amps)
        if self._held_volts > 0.0:
            gain = min(1.0, signal.elapsed / HELD_SECONDS)
            self._held_volts += gain * (signal.volts - self._held_volts)
        else:
            self._held_volts = signal.volts
        held = signal.volts > self._held_volts - HELD_VOLTS * cells
        before = self._tail_seconds
        if signal.amps - offset_amps <= end_amps and held:
            self._tail_seconds = before + signal.elapsed
        elif before < wanted_seconds:
            self._tail_seconds = 0.0
        return before < wanted_seconds <= self._tail_seconds
