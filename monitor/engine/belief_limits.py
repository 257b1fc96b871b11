"""How far the charge filter's belief may go, and how much of a current it may take for capacity."""

from __future__ import annotations

from typing import Final

from monitor.engine.cell import MISSING_FLOOR
from monitor.engine.gaussian import Gaussian
from monitor.engine.unknowns import CAPACITY, POWER, SOC

LEAST_CAPACITY: Final = -1.6  # log of usable over label: a fifth
MOST_CAPACITY: Final = 0.1  # log: a new bank gives a tenth more than its label (common practice)
POWERS: Final = (0.2, 1.4)  # of what is missing, in the law of acceptance (from memory)
DEEP: Final = 0.4  # missing since the last full: what a held current says of capacity then counts


def believed(deepest: float) -> float:
    """What share of what a held current says of the capacity is believed; `deepest` is the charge
    that certainly was missing at some time since the last full.

    A wrong capacity shows in proportion to how deep the bank went; the circuit's own errors near
    full do not, and come back every day. After shallow days they would be all that is learned.
    """
    share = min(1.0, max(0.0, deepest) / DEEP)
    return share * share


def hold(belief: Gaussian, before: float) -> None:
    """Keep a linearised step from leaving the range in which it means something; `before` was the
    fraction of charge."""
    mean = belief.mean
    missing = max(1.0 - before, MISSING_FLOOR)
    mean[SOC] = min(max(mean[SOC], 0.0, 1.0 - 2.0 * missing), 1.0 - 0.5 * missing)
    mean[POWER] = min(max(mean[POWER], POWERS[0]), POWERS[1])
    hold_capacity(belief)


def hold_capacity(belief: Gaussian) -> None:
    """What is pushed against a limit of the capacity becomes doubt, not confidence."""
    wanted = belief.mean[CAPACITY]
    held = min(max(wanted, LEAST_CAPACITY), MOST_CAPACITY)
    if held != wanted:
        belief.mean[CAPACITY] = held
        belief.spread(CAPACITY, (wanted - held) ** 2)
