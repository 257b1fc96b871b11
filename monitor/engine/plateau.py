"""The step in the long plateau of LFP: the one mark between the knees.

Between 20 and 90 percent the voltage of LFP tells nothing of its charge by itself: published curves
lie 80 mV apart. But all of them step up by 10 to 36 mV between 70 and 80 percent, where graphite
passes from one stage of filling to the next, and are flatter before (simses 26650 file, PyBaMM
Prada2013, Zephyr battery table). So under a steady charging current a *rise after a flat stretch*
marks where the cell is, whatever the absolute voltage. It is looked for on a ladder of charge.
"""

from __future__ import annotations

from typing import ClassVar, Final

RUNG: Final = 0.01  # of the label's ampere-hours between two looks
FLAT_RUNGS: Final = 8  # the flat stretch before
RISE_RUNGS: Final = 5  # and the rise after it
FLAT_VOLTS: Final = 0.008  # per cell: at most so much over the flat stretch
RISE_VOLTS: Final = 0.010  # per cell: at least so much over the rise (least of the three tables)
STEADY: Final = 0.25  # the current may differ by so much from that at the first rung
LEAST_RATE: Final = 0.05  # of the label: below, temperature moves the voltage as much
STEP_SOC: Final = 0.73  # where the rise is noticed: the tables' 70 to 80 percent
STEP_SD: Final = 0.05


class Plateau:
    """Watches one charge. `look` answers True once, when the step is seen."""

    KEPT: ClassVar[tuple[str, ...]] = ("_charge", "_rate", "_rungs", "_seen")
    __slots__ = ("_charge", "_rate", "_rungs", "_seen")

    def __init__(self) -> None:
        self._rungs: list[float] = []
        self._charge = 0.0
        self._rate = 0.0
        self._seen = False

    def clear(self) -> None:
        self._rungs = []
        self._charge = 0.0
        self._seen = False

    def look(self, rate: float, hours: float, volts: float) -> bool:
        """Charged at `rate` of the label for `hours`; cell volts less the ohmic part."""
        if rate < LEAST_RATE:
            self.clear()
            return False
        if self._rungs and abs(rate - self._rate) > STEADY * self._rate:
            self.clear()
        if not self._rungs:
            self._rate = rate
            self._rungs.append(volts)
            return False
        self._charge += rate * hours
        if self._charge < RUNG:
            return False
        self._charge -= RUNG
        rungs = self._rungs
        rungs.append(volts)
        if len(rungs) > FLAT_RUNGS + RISE_RUNGS + 1:
            del rungs[0]
        if self._seen or len(rungs) <= FLAT_RUNGS + RISE_RUNGS:
            return False
        flat = rungs[FLAT_RUNGS] - rungs[0]
        rise = rungs[-1] - rungs[FLAT_RUNGS]
        self._seen = flat < FLAT_VOLTS and rise > RISE_VOLTS
        return self._seen
