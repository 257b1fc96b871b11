"""Set-points as distributions: volts per cell at 25 °C, each with its standard deviation.

Given by the owner they start narrow, left out they start as wide as the chemistry's range, and
every plateau that a source is seen to hold narrows them. A source that holds something else than
what was given moves the distribution, and `moved` says by how much: reported, not followed blindly.
"""

from __future__ import annotations

from math import log
from typing import ClassVar, Final

from monitor.bank import REFERENCE_CELSIUS, Bank, Span
from monitor.engine.snapshot import Estimate, SetPointView

#: A given set-point is kept by a source to about this, volts per cell (common practice: 0.3 %).
GIVEN_SD: Final = 0.004
#: No plateau pins a set-point closer than this, volts per cell (sensor scale, compensation steps).
LEAST_SD: Final = 0.0025
#: A chemistry's range is taken as this many standard deviations to each side, never less than
#: `RANGE_SD` volts per cell, since owners set sources beyond it.
RANGE_SDS: Final = 1.0
RANGE_SD: Final = 0.025
#: Volts per cell by which a set-point may wander in a day (a season's resetting, in a week).
WANDER: Final = 0.002
#: However long a source holds something else, the distribution follows it no further than this:
#: volts per cell from a given set-point, standard deviations from a chemistry's typical one.
GIVEN_REACH: Final = 0.03
RANGE_REACH: Final = 2.5
#: A plateau this many deviations from where it was expected is another one.
ANOTHER: Final = 4.0
#: Share of plateaus that lie elsewhere within the chemistry's range.
ELSEWHERE: Final = 0.05
#: Leads without sense wires drop some 20 mV a cell with a load of the coach (common practice: 2 to
#: 6 milliohm, 20 to 40 A, 12 V); a quarter of the time that matters.
LEADS: Final = 0.02
LEADS_NATS: Final = log(0.25 * 0.075 / LEADS)
#: Densities of volts are weighed against an even chance within 75 mV a cell: (0.03 V)^2, which has
#: the factor of the normal density in it.
REFERENCE: Final = 0.0009
#: No single feature says less than this in one look, in nats: none may decide for ever.
CAP: Final = 12.0
#: A reading of the plateau counts as this many volts per cell in a minute of holding.
PLATEAU_SD: Final = 0.003


class Level:
    """One set-point: `mean` and `sd` in volts per cell at 25 °C; `given` by the owner, or None.

    `other` is the last plateau that was held before this one: two sources, two set-points.
    `seen` counts the seconds it was seen to be held.
    """

    __slots__ = (
        "_wide_best",
        "_wide_narrowness",
        "given",
        "high",
        "low",
        "mean",
        "other",
        "sd",
        "seen",
        "start_mean",
        "start_sd",
    )
    KEPT: ClassVar[tuple[str, ...]] = ("mean", "other", "sd", "seen")

    def __init__(self, given: float | None, span: Span | None) -> None:
        self.given = given
        if given is not None:
            self.start_mean = given
            self.start_sd = GIVEN_SD
        elif span is not None:
            self.start_mean = span.typical
            self.start_sd = max((span.high - span.low) / 2.0 / RANGE_SDS, RANGE_SD)
        else:
            self.start_mean = 0.0
            self.start_sd = 0.0
        reach = GIVEN_REACH if given is not None else RANGE_REACH * self.start_sd
        self.low = self.start_mean - reach
        self.high = self.start_mean + reach
        wide = RANGE_SD if span is None else max((span.high - span.low) / 2.0, RANGE_SD)
        self._wide_best = log(ELSEWHERE) + 0.5 * log(REFERENCE / (wide * wide))
        self._wide_narrowness = 0.5 / (wide * wide)
        self.mean = self.start_mean
        self.other: float | None = None
        self.sd = self.start_sd
        self.seen = 0.0

    def nats(self, volts: float, variance: float, leads: bool) -> float:
        """How well the level explains volts held to within `variance`, against 1 / (75 mV).

        `leads`: the posts may stand below the source by what unseen loads drop in its leads.
        A few percent of plateaus lie elsewhere: another source, another setting, the low hold.
        """
        variance += self.sd * self.sd
        off = volts - self.mean
        square = off * off / variance
        at = 0.5 * (log(REFERENCE / variance) - square) if square < 40.0 else -CAP
        if at < self._wide_best:
            other = self.other
            if other is not None:
                off = volts - other
                at_other = 0.5 * (log(REFERENCE / variance) - off * off / variance) - 1.0
                if at_other > at:
                    at = at_other
            off = volts - self.start_mean
            wide = self._wide_best - off * off * self._wide_narrowness
            if wide > at:
                at = wide
            off = volts - self.mean
            if leads and off < 0.0:
                below = LEADS_NATS + off / LEADS
                if below > at:
                    at = below
        return at if at > -CAP else -CAP

    def learn(self, volts: float, seconds: float, variance_now: float, lasting: bool) -> None:
        """A source held `volts` for `seconds`; `variance_now` is that of the volts themselves.

        A level far from the expected one is learned only when it is `lasting`.
        """
        off = volts - self.mean
        if off * off > ANOTHER * ANOTHER * (self.sd * self.sd + variance_now):
            if not lasting or not self.low <= volts <= self.high:
                return
            if self.seen > 0.0:
                self.other = self.mean
            self.sd = abs(off)
        variance = self.sd * self.sd + WANDER * WANDER * seconds / 86400.0
        noise = PLATEAU_SD * PLATEAU_SD * 60.0 / seconds
        gain = variance / (variance + noise)
        self.mean += gain * (volts - self.mean)
        variance *= 1.0 - gain
        least = LEAST_SD * LEAST_SD
        self.sd = variance**0.5 if variance > least else LEAST_SD
        if self.mean < self.low:
            self.mean = self.low
        elif self.mean > self.high:
            self.mean = self.high
        self.seen += seconds


class SetPoints:
    """The set-points of one bank's sources, and their compensation."""

    __slots__ = (
        "absorption",
        "cells",
        "celsius_high",
        "celsius_low",
        "equalize",
        "fixed",
        "float_",
        "low_hold",
        "per_celsius",
    )
    KEPT: ClassVar[tuple[str, ...]] = ("absorption", "equalize", "fixed", "float_", "low_hold")

    def __init__(self, bank: Bank) -> None:
        given = bank.set_points
        chemistry = bank.chemistry
        cells = bank.cells
        self.cells = cells

        def per_cell(volts: float | None) -> float | None:
            return None if volts is None else volts / cells

        self.absorption = Level(per_cell(given.absorption), chemistry.absorption)
        self.float_ = Level(per_cell(given.float_), chemistry.float_)
        self.equalize = Level(per_cell(given.equalize), chemistry.equalize)
        self.low_hold = Level(per_cell(given.low_hold), None)
        # a source of one voltage is set where a bank can stay for ever: the float range
        self.fixed = Level(per_cell(given.float_), chemistry.float_)
        compensation = given.compensation_mv_per_celsius_per_cell
        if compensation is None:
            compensation = chemistry.compensation_mv.typical
        self.per_celsius = compensation * 1e-3
        low, high = given.compensation_celsius or chemistry.compensation_celsius
        self.celsius_low = low
        self.celsius_high = high

    def shift(self, celsius: float | None) -> float:
        """Volts per cell that compensation adds at this temperature; 0 where it is unknown."""
        if celsius is None:
            return 0.0
        if celsius < self.celsius_low:
            celsius = self.celsius_low
        elif celsius > self.celsius_high:
            celsius = self.celsius_high
        return self.per_celsius * (celsius - REFERENCE_CELSIUS)

    def view(self, celsius: float | None) -> SetPointView:
        shift = self.shift(celsius)

        def estimate(level: Level) -> Estimate:
            if level.start_sd == 0.0:
                return Estimate(None, None, "none for this chemistry")
            return Estimate((level.mean + shift) * self.cells, level.sd * self.cells)

        return SetPointView(
            estimate(self.absorption), estimate(self.float_), estimate(self.equalize), celsius
        )
