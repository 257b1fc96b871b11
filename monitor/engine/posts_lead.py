"""The leads of a source seen from the posts alone: the volts rise as the current tapers.

A source without sense leads holds its own terminals, so the posts lie below by current times the
leads' resistance and climb as the current falls. A line through volts against current shows both:
where it meets no current lies the set-point, its slope is the leads. A stretch of twenty minutes
counts where the current fell by a good part, the points lie on the line from its beginning to its
end, and the line ends at a level that sources hold: a bulk charge that happens to fade does not do
all three. One-sided: a source with sense leads shows none, and a slope the other way is no
resistance.

In units of any size: volts per cell at 25 °C, amps over C20, and so volts per cell and C20.
"""

from __future__ import annotations

from math import hypot
from typing import ClassVar, Final, NamedTuple

from monitor.bank import Bank
from monitor.engine.features import Features
from monitor.engine.setpoints import Level
from monitor.engine.snapshot import Estimate

MINUTE_SECONDS: Final = 60.0
#: Minutes of a stretch, and the share of itself by which the current must have fallen meanwhile,
#: from the middle of its first third to that of its last.
MINUTES: Final = 20
FALLEN: Final = 0.12
#: Least current from which leads are told, C20.
LEAST_AMPS: Final = 0.02
#: A minute's mean of the volts, per cell: noise and steps; alike for so many minutes.
MINUTE_SD: Final = 0.001
ALIKE_MINUTES: Final = 5.0
#: The middles of its first and last third may lie off the line by this share of what lies between:
#: a current that surges after a cloud while the volts recover draws a line by itself.
ALONG: Final = 0.3
#: Volts per cell by which the line may miss a level that was told (loads through the same leads,
#: compensation's lag).
MISSED: Final = 0.015
#: Loads that a source feeds beside the bank, C20 (common practice: up to 6 A on 200 Ah mostly).
#: Coming and going they scatter the points by so much of it (half, where all of them were on half
#: the time); and they make the answer too large by about a share, in milliohm by half of one at
#: least (a set-point a little off).
LOADS: Final = 0.03
SCATTER: Final = 0.4
LOADS_SHARE: Final = 0.1
LEAST_SD: Final = 0.5
#: What leads could be: 15 milliohm on 12 V, 400 Ah are 1.0; below the first the features already
#: allow for them. Used only when at least so many deviations from nothing.
RANGE: Final = (0.12, 1.0)
SURE: Final = 4.0
#: By how much leads may change from one stretch to the next, as a share (joints age).
DRIFT: Final = 0.05
#: A stretch this many deviations off what was known starts anew.
ANOTHER: Final = 4.0


class Line(NamedTuple):
    """Volts against amps: `level` without current, `lead` the slope downward, with its `sd`."""

    level: float
    lead: float
    sd: float
    scatter: float


def fit(volts: list[float], amps: list[float]) -> Line:
    """Least squares; `scatter` is how far the points lie off the line."""
    count = len(volts)
    mean_volts = sum(volts) / count
    mean_amps = sum(amps) / count
    square = sum((a - mean_amps) ** 2 for a in amps) + 1e-12
    product = sum((a - mean_amps) * (v - mean_volts) for v, a in zip(volts, amps, strict=True))
    lead = -product / square
    level = mean_volts + lead * mean_amps
    off = sum((v - level + lead * a) ** 2 for v, a in zip(volts, amps, strict=True))
    scatter = (off / count) ** 0.5
    sd = max(scatter, MINUTE_SD) * (ALIKE_MINUTES / square) ** 0.5
    return Line(level, lead, sd, scatter)


def _middle(figures: list[float]) -> float:
    return sorted(figures)[len(figures) // 2]


def one_line(volts: list[float], amps: list[float]) -> Line | None:
    """The line through all points, where it is no accident of a few of them; else None.

    The middle of the first third and that of the last must lie along it, so far apart as to tell.
    """
    third = len(volts) // 3
    fallen = _middle(amps[:third]) - _middle(amps[-third:])
    if fallen < FALLEN * _middle(amps[:third]):
        return None
    line = fit(volts, amps)
    risen = _middle(volts[-third:]) - _middle(volts[:third])
    allowed = max(2.0 * MINUTE_SD, SCATTER * abs(line.lead) * LOADS)
    along = abs(risen - line.lead * fallen) < max(MINUTE_SD, ALONG * abs(line.lead) * fallen)
    return line if along and line.scatter < allowed and line.lead < RANGE[1] else None


class PostsLead:
    """`add` at every reading; `rise` the volts that the source must stand above the posts."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "lead",
        "sd",
        "known",
        "_seconds",
        "_sum_volts",
        "_sum_amps",
        "_volts",
        "_amps",
    )
    __slots__ = (*KEPT, "_milliohms")

    def __init__(self, bank: Bank) -> None:
        self._milliohms = 1e3 * bank.cells / bank.amp_hours
        self.lead = 0.0
        self.sd = 0.0
        self.known = False
        self._seconds = 0.0
        self._sum_volts = 0.0
        self._sum_amps = 0.0
        self._volts: list[float] = []
        self._amps: list[float] = []

    def rise(self, cell: float, amps: float, levels: tuple[float, float]) -> float | None:
        """Volts per cell by which the source stands above posts at `cell` with net `amps`.

        The leads also carry what the loads draw, which is not known: whatever of that brings the
        source to one of the `levels` that it holds. None where leads are not seen to matter.
        """
        lead = self.lead
        if not self.known or lead < RANGE[0] or lead < SURE * self.sd:
            return None
        least = lead * amps if amps > 0.0 else 0.0
        most = least + lead * LOADS
        best = least
        for level in levels:
            if least < level - cell < most:
                best = level - cell
        return best

    def add(self, f: Features, level: Level, elapsed: float, charging: bool, held: bool) -> None:
        """One reading; `level` is absorption's, `held` that it is surely held now."""
        if not charging or f.amps < LEAST_AMPS:
            self._volts = []
            self._amps = []
            self._seconds = self._sum_volts = self._sum_amps = 0.0
            return
        self._seconds += elapsed
        self._sum_volts += f.cell * elapsed
        self._sum_amps += f.amps * elapsed
        if self._seconds < MINUTE_SECONDS:
            return
        self._volts.append(self._sum_volts / self._seconds)
        self._amps.append(self._sum_amps / self._seconds)
        self._seconds = self._sum_volts = self._sum_amps = 0.0
        del self._volts[:-MINUTES], self._amps[:-MINUTES]
        if len(self._volts) < MINUTES:
            return
        told = level.given if level.given is not None else level.mean if held else None
        line = None if told is None else one_line(self._volts, self._amps)
        if line is None or told is None:
            return
        if abs(line.level - told) < max(MISSED, 2.0 * level.sd):
            self._take(line)

    def _take(self, line: Line) -> None:
        """Blend a stretch in; the next one begins after it."""
        self._volts = []
        self._amps = []
        variance = self.sd * self.sd + (DRIFT * self.lead) ** 2
        off = line.lead - self.lead
        own = line.sd * line.sd + (LOADS_SHARE * line.lead) ** 2
        if not self.known or off * off > ANOTHER * ANOTHER * (variance + own):
            self.lead, self.sd = line.lead, own**0.5
            self.known = True
            return
        gain = variance / (variance + own)
        self.lead += gain * off
        self.sd = ((1.0 - gain) * variance) ** 0.5

    def estimate(self) -> Estimate:
        """In milliohm, one-sided; the reason where there is none."""
        if not self.known:
            return Estimate(None, None, "no absorption has tapered yet that would show them")
        figure = self._milliohms * max(0.0, self.lead)
        sd = hypot(self._milliohms * self.sd, LOADS_SHARE * figure, LEAST_SD)
        return Estimate(figure, sd, "seen from the posts alone")
