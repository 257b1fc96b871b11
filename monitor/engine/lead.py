"""The leads between a source and the posts: their resistance, and how sure that is.

Where both ends are measured: volts at the source less volts at the posts are the current times the
resistance, plus what two meters disagree by. The two are told apart because the current moves while
the meters do not, so both are estimated together (a line through minutes' means, by recursive
least squares). Without the source's own amps the bank's net current has to do, and a load makes
the answer less sure. A resistance below nothing is not believed: what is shown is one-sided.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank
from monitor.engine.gaussian import Gaussian
from monitor.engine.snapshot import Estimate

#: Ohms before anything was seen: 2 to 15 milliohm there and back are common (engine: signal).
FIRST_OHMS: Final = 0.006
FIRST_SD: Final = 0.008
#: Two meters disagree by this fraction of the nominal voltage (common practice: 0.5 % each).
METERS_SD: Final = 0.005
#: ...and are told apart from the leads once this is known to such a fraction (10 mV of 12 V).
METERS_KNOWN: Final = 0.0008
#: A minute's mean of the drop, as a fraction of the nominal voltage: 6 to 8 mV of noise at 12 V in
#: a handful of readings, taken seconds apart.
MINUTE_SD: Final = 0.0003
#: Minutes over which such an error stays the same (our choice: what is off stays off for a while).
ALIKE_MINUTES: Final = 5.0
#: Loads that the source feeds beside the bank, in C20, where its own amps are not measured.
LOADS_RATE: Final = 0.02
#: Ohms by which a joint may change in a day without being a fault (our choice).
DRIFT_OHMS: Final = 0.0003
DAY_MINUTES: Final = 1440.0
#: Current, in C20, below which nothing surely flows through the leads.
LEAST_RATE: Final = 0.01
#: Known when the deviation is below this, or below a third of the figure.
KNOWN_SD: Final = 0.002
#: No minute counts for more than it could be off by, in deviations.
GATE: Final = 3.0
_OHMS: Final = 0
_METERS: Final = 1


class Lead:
    """`estimate` in milliohm; `seconds` when it was last learned from, None before."""

    KEPT: ClassVar[tuple[str, ...]] = ("belief", "seconds")
    __slots__ = (*KEPT, "_amp_hours", "_minute_sd", "_nominal_volts")

    def __init__(self, bank: Bank) -> None:
        self._amp_hours = bank.amp_hours
        self._nominal_volts = bank.nominal_volts
        self._minute_sd = MINUTE_SD * bank.nominal_volts
        self.belief = Gaussian([FIRST_OHMS, 0.0], [FIRST_SD, METERS_SD * bank.nominal_volts])
        self.seconds: float | None = None

    def add(self, seconds: float, drop: float, amps: float, own_amps: bool) -> None:
        """A steady minute's means: volts between the ends, amps through the leads."""
        if amps < LEAST_RATE * self._amp_hours:
            return  # it may only feed loads, or not be connected at all
        belief = self.belief
        loads = 0.0 if own_amps else LOADS_RATE * self._amp_hours * self.ohms
        variance = self._minute_sd * self._minute_sd + loads * loads
        belief.spread(_OHMS, DRIFT_OHMS * DRIFT_OHMS / DAY_MINUTES)
        row = [amps, 1.0]
        variance *= ALIKE_MINUTES
        residual = drop - belief.mean[_OHMS] * amps - belief.mean[_METERS]
        most = GATE * (belief.variance(row) + variance) ** 0.5
        belief.correct(row, min(max(residual, -most), most), variance)
        self.seconds = seconds

    @property
    def ohms(self) -> float:
        return max(0.0, self.belief.mean[_OHMS])

    @property
    def ohms_sd(self) -> float:
        return self.belief.sd(_OHMS)

    @property
    def meters_volts(self) -> float:
        """What the meter at the source surely shows more than the one at the posts."""
        known = self.belief.sd(_METERS) < METERS_KNOWN * self._nominal_volts
        return self.belief.mean[_METERS] if known else 0.0

    @property
    def known(self) -> bool:
        return self.seconds is not None and self.ohms_sd < max(KNOWN_SD, self.ohms / 3.0)

    def estimate(self) -> Estimate:
        """In milliohm; the reason where there is none."""
        if self.seconds is None:
            return Estimate(None, None, "needs volts at the source and at the posts while it gives")
        if not self.known:
            return Estimate(None, None, "the current has not moved enough to tell it yet")
        return Estimate(1e3 * self.ohms, 1e3 * self.ohms_sd)
