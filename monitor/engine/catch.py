"""Volts that were falling by themselves and are caught: something holds them again.

A source that falls to a low hold after hours in float lets the bank's volts go for a while and then
holds them, perhaps hardly above where the bank would rest. What tells the two apart is the bend: a
bank left alone falls ever more slowly, by its own time constants, and is never flat within the
hour after it fell fast; one that is held stops at once.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank
from monitor.engine.features import Features
from monitor.engine.stage_order import FLOAT

#: Falling fast: surely more than 20 mV in an hour, volts per cell a second. Published rest curves
#: of lead-acid banks pass that slope within the first two hours and half of it hours later.
FALLS: Final = 0.020 / 3600.0
#: Flat: surely less than a fifth of that.
FLAT: Final = 0.004 / 3600.0
#: How long a fast fall is remembered, seconds (a bank alone needs hours from the one to the other).
REMEMBERED: Final = 2400.0
FADED: Final = 0.25
#: No more than this many deviations of current flow meanwhile: nothing charges, nothing draws.
IDLE_SIGMAS: Final = 3.0


#: A low hold lies this far above what a full lead-acid bank rests at, volts per cell, at least, and
#: this far below its chemistry's usual float.
ABOVE_REST: Final = 0.02
BELOW_FLOAT: Final = 0.015


class Catch:
    """`look` gives the volts per cell that are held after a fall out of float; None while none."""

    KEPT: ClassVar[tuple[str, ...]] = ("fall",)
    __slots__ = ("_high", "_low", "fall")

    def __init__(self, bank: Bank) -> None:
        chemistry = bank.chemistry
        #: LFP rests where it would be held: there nothing is caught.
        self._low = chemistry.rest_volts[-1][1] + (ABOVE_REST if chemistry.lead else 1.0)
        given = bank.set_points.float_
        usual = chemistry.float_.typical if given is None else given / bank.cells
        self._high = usual - BELOW_FLOAT
        #: The steepest sure fall lately, volts per cell a second, faded with time.
        self.fall = 0.0

    def look(self, f: Features, elapsed: float, held: int) -> float | None:
        """`held`: the stage last seen holding a level."""
        self.fall *= 1.0 - min(1.0, elapsed / REMEMBERED)
        sure = f.drift + 2.0 * f.drift_sd
        if sure < self.fall:
            self.fall = sure
        if (
            held == FLOAT
            and self.fall < -FADED * FALLS
            and f.steepest < FLAT
            and -IDLE_SIGMAS < f.sigmas < IDLE_SIGMAS
            and self._low < f.held < self._high
        ):
            return f.held
        return None
