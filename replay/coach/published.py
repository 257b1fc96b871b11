"""The simulated bank against four published, independently measured charging tests.

All by one tester (published as "Effect of charge rate" and in a sailing forum): an AGM of 95.7 Ah
at 0.2 C and at 0.4 C, an AGM of 125 Ah at 18.75 A, a flooded bank of 124.5 Ah at 0.15 C, each from
about half full at about 25 °C. The charger holds 14.4 V at the posts; full is 0.5 % of the
amp-hours for AGM and 1.5 % for flooded, held for a minute.

How well it does (`python -m replay.coach.published` prints this, a test keeps it true):

    test                          reaches 14.4 V at SOC   after hours    full after hours
                                  measured  simulated   meas.   sim.   meas.   sim.
    AGM 95.7 Ah at 0.2 C             0.774      0.813    1.39   1.64    5.50   5.83
    AGM 95.7 Ah at 0.4 C             0.633      0.647       -   0.39    5.30   5.23
    AGM 125 Ah at 18.75 A                -      0.859    1.70   2.48    6.15   6.36
    flooded 124.5 Ah at 0.15 C           -      0.818       -   2.25    6.97   6.73

State of charge at absorption within 6 %, hours to full within 7 %.

Five figures of the AGM cell and two of the flooded one were chosen with these tests in view, so
this shows that the model can agree, not that it predicts. What it misses are the hours of *bulk*:
18 % too long at 0.2 C, and nearly half again too long for the AGM of 125 Ah, which reached 14.4 V
at 75.5 % with 0.15 C where the other battery reached it at 77.4 % with 0.2 C; a lower current
should get further. It would need a cell of its own, and one test is too little to make one from.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import Final, NamedTuple

from replay.coach.circuit import Feed, balance
from replay.coach.lead import LeadBank
from replay.coach.models import BankModel

_STEP_SECONDS: Final = 5.0
_HELD_VOLTS: Final = 14.4
_DROOP_SIEMENS: Final = 2500.0


class PublishedTest(NamedTuple):
    """What was measured; None where it was not published."""

    words: str
    chemistry: str
    amp_hours: float
    amps: float
    soc: float
    full_amps: float
    absorption_soc: float | None
    absorption_hours: float | None
    full_hours: float


class Outcome(NamedTuple):
    """What the simulated bank did. `recharge` is amp-hours in over amp-hours stored."""

    absorption_soc: float
    absorption_hours: float
    full_hours: float
    full_soc: float
    recharge: float


PUBLISHED: Final = (
    PublishedTest("AGM 95.7 Ah at 0.2 C", "agm", 95.7, 19.14, 0.495, 0.479, 0.774, 1.39, 5.5),
    PublishedTest("AGM 95.7 Ah at 0.4 C", "agm", 95.7, 38.28, 0.495, 0.479, 0.633, None, 5.3),
    PublishedTest("AGM 125 Ah at 18.75 A", "agm", 125.0, 18.75, 0.5, 0.625, None, 1.70, 6.15),
    PublishedTest(
        "flooded 124.5 Ah at 0.15 C", "flooded", 124.5, 18.675, 0.5, 1.868, None, None, 6.97
    ),
)


def charge(test: PublishedTest) -> Outcome:
    """Charge the simulated bank as the real one was charged."""
    model = BankModel("test", test.chemistry, 12, test.amp_hours, soc=test.soc, celsius=25.0)
    bank = LeadBank(model, _STEP_SECONDS)
    feeds = [Feed(_HELD_VOLTS, _DROOP_SIEMENS, test.amps)]
    seconds = held = amp_hours = 0.0
    reached: tuple[float, float] | None = None
    while held < 60.0 and seconds < 86400.0:
        branch = bank.branch()
        found = balance(branch, feeds, 0.0, bank.inner)
        bank.advance(found, branch, 25.0)
        bank.celsius = 25.0  # the tests were made at a steady temperature
        seconds += _STEP_SECONDS
        amp_hours += found.amps * _STEP_SECONDS / 3600.0
        if reached is None and found.amps < test.amps * 0.9999:
            reached = bank.soc, seconds / 3600.0
        held = held + _STEP_SECONDS if found.amps <= test.full_amps else 0.0
    soc, hours = reached if reached is not None else (bank.soc, seconds / 3600.0)
    stored = (bank.soc - test.soc) * bank.amp_hours
    return Outcome(soc, hours, seconds / 3600.0, bank.soc, amp_hours / stored)


def table() -> Iterator[str]:
    """Measured and simulated side by side."""
    yield "test                          reaches 14.4 V at SOC   after hours    full after hours"
    yield "                              measured  simulated   meas.   sim.   meas.   sim."
    for test in PUBLISHED:
        outcome = charge(test)
        yield (
            f"{test.words:30}{_or_dash(test.absorption_soc, 8, 3)}{outcome.absorption_soc:11.3f}"
            f"{_or_dash(test.absorption_hours, 8, 2)}{outcome.absorption_hours:7.2f}"
            f"{test.full_hours:8.2f}{outcome.full_hours:7.2f}"
        )


def _or_dash(figure: float | None, width: int, digits: int) -> str:
    return f"{'-':>{width}}" if figure is None else f"{figure:{width}.{digits}f}"


if __name__ == "__main__":
    sys.stdout.writelines(f"{line}\n" for line in table())
