"""The leads of a source seen from the posts alone: the volts rise as the current tapers.

A source without sense leads holds its own terminals, so the posts lie below by current times the
leads' resistance and climb as the current falls. Between two steps of the loads, whatever those
draw, volts against current run along a line whose slope is the leads; where it meets no current
lies the set-point, less what the loads drop. Many short stretches together make the slope. Only
stretches count whose points lie on their line and whose line ends at a level that sources hold: a
bulk charge that happens to fade does not do both. One-sided: a source with sense leads shows none,
and a slope the other way is no resistance.

In units of any size: volts per cell at 25 °C, amps over C20, and so volts per cell and C20.
"""

from __future__ import annotations

from math import hypot
from typing import ClassVar, Final

from monitor.bank import Bank
from monitor.engine.features import Features
from monitor.engine.setpoints import Level
from monitor.engine.snapshot import Estimate

MINUTE_SECONDS: Final = 60.0
#: A stretch begins so many minutes after a step (the bank's fast polarisation), and has so many.
SKIPPED: Final = 2
LEAST_MINUTES: Final = 5
MOST_MINUTES: Final = 20
#: Least current from which leads are told, C20.
LEAST_AMPS: Final = 0.02
#: A minute's mean of the volts, per cell: noise, steps, and compensation that follows a temperature
#: seen in half degrees; alike for so many minutes. Points that scatter by more are on no line.
MINUTE_SD: Final = 0.0015
ALIKE_MINUTES: Final = 10.0
#: Volts per cell by which the line may miss a level that was told (compensation's lag), beside what
#: loads drop in the same leads: C20, common practice: up to 6 A on 200 Ah mostly.
MISSED: Final = 0.008
LOADS: Final = 0.03
#: What leads could be: 15 milliohm on 12 V, 400 Ah are 1.0. Those below the first the features
#: already allow for. Used when at least so many deviations from nothing.
LEAST_LEAD: Final = 0.12
MOST_LEAD: Final = 1.2
SURE: Final = 3.0
#: Of what stretches said before so much is left after another one (joints age; fifty or so count).
REMEMBERED: Final = 0.98
#: Shown when this sure, volts per cell and C20, or by a share of the figure.
SHOWN_SHARE: Final = 0.3
SHOWN_SD: Final = 0.08
#: Beyond the scatter, milliohm: the set-point moves with temperature while the current tapers.
LEAST_SD: Final = 0.4
SHARE_SD: Final = 0.07


class PostsLead:
    """`add` at every reading; `rise` the volts that the source must stand above the posts."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "_square",
        "_product",
        "_seconds",
        "_sum_volts",
        "_sum_amps",
        "_skip",
        "_volts",
        "_amps",
    )
    __slots__ = (*KEPT, "_milliohms")

    def __init__(self, bank: Bank) -> None:
        self._milliohms = 1e3 * bank.cells / bank.amp_hours
        #: Sums over all stretches, each about its own middle: amps squared, amps by volts.
        self._square = 0.0
        self._product = 0.0
        self._seconds = 0.0
        self._sum_volts = 0.0
        self._sum_amps = 0.0
        self._skip = SKIPPED
        #: Minutes of the stretch under way.
        self._volts: list[float] = []
        self._amps: list[float] = []

    @property
    def lead(self) -> float:
        return -self._product / self._square if self._square > 0.0 else 0.0

    @property
    def sd(self) -> float:
        if self._square <= 0.0:
            return 1.0
        return float(MINUTE_SD * (ALIKE_MINUTES / self._square) ** 0.5)

    @property
    def known(self) -> bool:
        return self.sd < max(SHOWN_SD, SHOWN_SHARE * self.lead)

    def rise(self, cell: float, amps: float, levels: tuple[float, float]) -> float | None:
        """Volts per cell by which the source stands above posts at `cell` with net `amps`.

        The leads also carry what the loads draw, which is not known: whatever of that brings the
        source to one of the `levels` that it holds. None where leads are not seen to matter.
        """
        lead = self.lead
        if lead < LEAST_LEAD or lead < SURE * self.sd:
            return None
        least = lead * amps if amps > 0.0 else 0.0
        most = least + lead * LOADS
        best = least
        for level in levels:
            if least < level - cell < most:
                best = level - cell
        return best

    def add(
        self, f: Features, level: Level, elapsed: float, step: bool, charging: bool, held: bool
    ) -> None:
        """One reading; `level` is absorption's, `held` that it is surely held now.

        `step`: a load came or went.
        """
        if not charging or f.amps < LEAST_AMPS or step:
            self._close(level, held)
            self._skip = SKIPPED
            self._seconds = self._sum_volts = self._sum_amps = 0.0
            return
        self._seconds += elapsed
        self._sum_volts += f.cell * elapsed
        self._sum_amps += f.amps * elapsed
        if self._seconds < MINUTE_SECONDS:
            return
        if self._skip > 0:
            self._skip -= 1
        else:
            self._volts.append(self._sum_volts / self._seconds)
            self._amps.append(self._sum_amps / self._seconds)
        self._seconds = self._sum_volts = self._sum_amps = 0.0
        if len(self._volts) >= MOST_MINUTES:
            self._close(level, held)

    def _close(self, level: Level, held: bool) -> None:
        """A stretch is over: does it lie on a line that ends at a level?"""
        volts, amps = self._volts, self._amps
        if not volts:
            return
        self._volts, self._amps = [], []
        count = len(volts)
        if count < LEAST_MINUTES or not (held or level.given is not None):
            return
        mean_volts = sum(volts) / count
        mean_amps = sum(amps) / count
        square = sum((a - mean_amps) ** 2 for a in amps)
        if square <= 0.0:
            return
        product = sum((a - mean_amps) * (v - mean_volts) for v, a in zip(volts, amps, strict=True))
        spread = sum((v - mean_volts) ** 2 for v in volts)
        scatter = max(0.0, spread - product * product / square) / count
        lead = -product / square
        short = level.start_mean - (mean_volts + max(0.0, lead) * mean_amps)
        allowed = max(MISSED, 2.0 * level.start_sd)
        if (
            scatter < MINUTE_SD * MINUTE_SD
            and lead < MOST_LEAD
            and -allowed < short < allowed + max(0.0, lead) * LOADS
        ):
            self._square = REMEMBERED * self._square + square
            self._product = REMEMBERED * self._product + product

    def estimate(self) -> Estimate:
        """In milliohm, one-sided; the reason where there is none."""
        if not self.known:
            return Estimate(None, None, "no absorption has tapered yet that would show them")
        figure = self._milliohms * max(0.0, self.lead)
        sd = hypot(self._milliohms * self.sd, SHARE_SD * figure, LEAST_SD)
        return Estimate(figure, sd, "seen from the posts alone")
