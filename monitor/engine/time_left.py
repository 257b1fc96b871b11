"""Time left: the bank drained at its recent load to its lowest planned charge.

By Peukert in the rated-hour form; below the rated current by charge alone, since nobody measured
there. The spread is that of the charge, of the capacity and of the load.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from monitor.engine.snapshot import Interval

if TYPE_CHECKING:
    from monitor.bank import Bank
    from monitor.engine.charge import ChargeFilter

RATED_HOURS: Final = 20.0
LEAST_LOAD: Final = 0.0005  # of the label, in amps: less is no load (ours)
LOAD_SD: Final = 0.2  # of the log: the coming hours draw about what the last did (ours)
MOST_LEFT: Final = 3.0  # of the log of time left: next to the lowest planned SOC all is possible


def time_left(bank: Bank, charge: ChargeFilter, load_amps: float | None, width: float) -> Interval:
    """Seconds from now, `width` standard deviations each way; or the reason why there are none."""
    if load_amps is None or load_amps <= LEAST_LOAD * bank.amp_hours:
        return Interval(None, None, None, "no load worth the name")
    spare = charge.soc - (bank.lowest_soc or 0.0)
    if spare <= 0.0:
        return Interval(0.0, 0.0, 0.0, "")
    rate = load_amps * RATED_HOURS / charge.capacity_ah
    peukert = bank.chemistry.peukert.typical
    whole = RATED_HOURS / rate ** (peukert if rate > 1.0 else 1.0)
    sd = math.hypot(charge.soc_sd / spare, charge.capacity_ah_sd / charge.capacity_ah, LOAD_SD)
    sd = min(sd, MOST_LEFT)
    left = spare * whole * 3600.0
    return Interval(left, left / math.exp(width * sd), left * math.exp(width * sd), "")
