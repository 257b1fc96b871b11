"""Volts that were let go out of float and are caught: something holds them again, lower.

A source that falls to a low hold after hours in float lets the bank's volts go for some minutes and
then holds them, perhaps hardly above where the bank would rest. What tells the two apart is how
soon they are flat: a bank left alone falls ever more slowly but for hours on end (published rest
curves of lead-acid banks still fall by 8 to 20 mV a cell in the second hour), one that is held
stops within the first.
"""

from __future__ import annotations

from typing import Final

from monitor.bank import Bank
from monitor.engine.features import Features
from monitor.engine.hold import Memory
from monitor.engine.setpoints import LEAST_SD, SetPoints
from monitor.engine.stage_order import FLOAT

#: Flat: surely less than this in volts per cell a second, no longer after float than so many
#: seconds.
FLAT: Final = 0.006 / 3600.0
SOON: Final = 3000.0
#: No more than this many deviations of current flow meanwhile: nothing charges, nothing draws.
IDLE_SIGMAS: Final = 3.0
#: A low hold lies this far above what a full lead-acid bank rests at, volts per cell, at least
#: (common practice: 13.0 V flooded, 13.2 V AGM; what fades below that is surface charge), and this
#: far below its float.
ABOVE_REST: Final = 0.04
BELOW_FLOAT: Final = 0.015


def low_holds(bank: Bank) -> tuple[float, float]:
    """Between which volts per cell a low hold is caught; LFP rests where it would be held."""
    chemistry = bank.chemistry
    if not chemistry.lead:
        return 0.0, 0.0
    given = bank.set_points.float_
    usual = chemistry.float_.typical if given is None else given / bank.cells
    return chemistry.rest_volts[-1][1] + ABOVE_REST, usual - BELOW_FLOAT


def lower_float(points: SetPoints) -> float | None:
    """A float level that was left for a lower one is two: the lower is taken out, and given.

    That happens where the low hold lies within what float may be, and was taken for a new float.
    """
    level = points.float_
    before = level.other
    if before is None or level.given is not None or before - level.mean < BELOW_FLOAT:
        return None
    low = level.mean
    level.mean = before
    level.sd = LEAST_SD
    level.other = None
    return low


def caught(f: Features, memory: Memory, between: tuple[float, float]) -> float | None:
    """The volts per cell that are held soon after float was left; None while none are."""
    low, high = between
    if (
        memory.held == FLOAT
        and 0.0 < memory.idle < SOON
        and f.steepest < FLAT
        and -IDLE_SIGMAS < f.sigmas < IDLE_SIGMAS
        and low < f.held < high
    ):
        return f.held
    return None
