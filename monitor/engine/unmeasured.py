"""Do the figures of a bank and its sources add up? Where more flows into the bank than all sources
give, something that nobody measures gives the rest, and what the loads draw is not known.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from monitor.engine.unknowns import OFFSET_AMPS, OFFSET_RATE

#: What each figure may be off by, as a share of it (common practice: a shunt errs by 0.5 to 1 %, a
#: charger's own figure by one or two).
METER_SHARE: Final = 0.02
#: Standard deviations of the sensor's offset that are no cause for blame, as everywhere.
WIDTH: Final = 2.0


def unmeasured_amps(sources: Iterable[float], bank: float, label_amp_hours: float) -> float:
    """Amps that come from something that is not measured; 0.0 where meters may merely err.

    `sources` and `bank` in amps, into the bank positive.
    """
    given = tuple(sources)
    short = bank - sum(given)
    flows = abs(bank) + sum(abs(amps) for amps in given)
    offset = OFFSET_AMPS + OFFSET_RATE * label_amp_hours
    return short if short > METER_SHARE * flows + WIDTH * offset else 0.0


def reason(amps: float) -> str:
    """Why the loads are not known."""
    told = f"{amps:.0f} A" if amps >= 10.0 else f"{amps:.1f} A"
    return (
        f"more flows into the bank than all sources give: {told} come from something that is "
        "not measured"
    )
