"""The bank's own resistance, from the volts that follow a sudden step of the current.

Only where no source holds the voltage: there the volts would not follow. Kept at 25 °C, because
a cold bank resists more whatever its health.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import REFERENCE_CELSIUS, Bank
from monitor.engine.snapshot import Estimate

#: Of the resistance, for every degree: lead-acid and LFP alike, from memory.
PER_CELSIUS: Final = -0.007
LEAST_STEP: Final = 0.02  # of C20: smaller steps say little
STEP_SHARE: Final = 0.3  # one step is so far from the next: depth and duration differ (ours)
DRIFT: Final = 0.01  # of the resistance from step to step: banks age
MOST_OHM_AMP_HOURS_PER_CELL: Final = 2.0  # ten times a sound 100 Ah cell: no bank works so


class Resistance:
    """A scalar Kalman estimate: ohms of the whole bank at 25 °C and its standard deviation."""

    KEPT: ClassVar[tuple[str, ...]] = ("ohms", "sd", "steps")

    def __init__(self, bank: Bank) -> None:
        self._least_amps = LEAST_STEP * bank.amp_hours
        self._most = MOST_OHM_AMP_HOURS_PER_CELL * bank.cells / bank.amp_hours
        self.ohms: float | None = None
        self.sd = 0.0
        self.steps = 0

    def step(self, volts: float, amps: float, noise_volts: float, celsius: float) -> None:
        """The volts that went with a step of `amps`, both with their signs."""
        if not -self._least_amps >= amps and not amps >= self._least_amps:
            return
        seen = volts / amps / (1.0 + PER_CELSIUS * (celsius - REFERENCE_CELSIUS))
        if not 0.0 < seen < self._most:
            return
        self.steps += 1
        noise = 1.5 * noise_volts / abs(amps)
        if self.ohms is None:
            self.ohms, self.sd = seen, noise + STEP_SHARE * seen
            return
        variance = self.sd * self.sd + (DRIFT * self.ohms) ** 2
        error = noise + STEP_SHARE * self.ohms
        gain = variance / (variance + error * error)
        self.ohms += gain * (seen - self.ohms)
        self.sd = ((1.0 - gain) * variance) ** 0.5

    def view(self) -> Estimate:
        if self.ohms is None:
            return Estimate(None, None, "no load step seen yet")
        return Estimate(self.ohms * 1000.0, self.sd * 1000.0)
