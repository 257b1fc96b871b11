"""One cell as an equivalent circuit: rest voltage, overpotential, gas. Pure functions and priors.

Everything is per cell and per unit of usable capacity, so that one set of figures serves any bank:
a *rate* of 0.1 is a tenth of the usable capacity each hour. While a source holds `volts`,

    push        = volts - rest(soc) - polarisation - stored rate * ohmic
    room        = (1 - soc) ** power * (1 + (1 - soc) / fresh)
    stored rate = (kinetic / acceptance) * room * sinh(push / kinetic)
    net rate    = stored rate * (1 + share(soc)) + gas(volts, celsius)

*Acceptance* is the resistance that the charge still missing puts in the way: the discharged mass
dissolves more slowly the less of it is left. With `power` well under 1 it shrinks like crystals of
one size, and the end comes quickly, as in sealed cells; with `power` 1 it tapers for ever, as in
flooded cells with crystals of all sizes. A deep discharge leaves `fresh`, fine, mass that goes
first. *Kinetic* is the push beyond which current grows faster than volts
(Butler and Volmer's law in its symmetric form). *Polarisation* is a slow voltage that builds within
about an hour (acid that has yet to mix) and fades over hours. *Share* is what is lost beside the
main reaction as the cell fills; *gas* is the current that only makes gas.

The priors of acceptance, power and polarisation were fitted to the four published, measured
charging tests in `tests/reference/test_measured_charges.py`; each bank then learns its own
(`charge.py`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Final, NamedTuple

from monitor.bank import REFERENCE_CELSIUS, Chemistry


class Prior(NamedTuple):
    """A figure before this bank has been seen, and the standard deviation of it (or of its log)."""

    figure: float
    sd: float


@dataclass(frozen=True, slots=True)
class Traits:
    """What is known of a chemistry's circuit before its bank is seen.

    `acceptance` and `ohmic` in volts per unit rate, `kinetic` in volts, `polarisation` in volts at
    the end of a long charge, `sag` in volts per unit rate of discharge once it has built up,
    `gassing` as a rate at 2.40 V and 25 °C, `share` at full and the power of soc with which it
    grows, `rest_sd` the error of the chemistry's rest voltage table in volts. Spreads of acceptance
    and gassing are of the log.
    """

    acceptance: Prior
    power: Prior
    kinetic: float
    ohmic: float
    polarisation: float
    sag: float
    gassing: Prior
    share: float
    share_power: float
    rest_sd: float
    full: Prior


#: Fitted: acceptance, power and polarisation to the four published charging tests (AGM; flooded),
#: gel like AGM and lead-calcium like flooded for want of tests. Ohmic: common practice, 100 Ah of
#: lead has 1 milliohm a cell, of LFP 1 to 3 with its contacts. Sag: a published test of a used AGM
#: under C/20 stands 0.03 V a cell under its rest table. Gassing: from memory, a third of the safety
#: figures of IEC 62485-2 at boost (20 mA/Ah vented, 8 mA/Ah sealed). Share: common practice, 85 to
#: 95 % of the last ampere-hours are stored; it falls as the cell fills (Stevens and Corey 1996,
#: from memory). Rest tables: BCI against Bode within 0.003 V a cell, AGM and gel tables differ
#: more. Full, the fraction of charge at the usual end of charge: common practice, a percent or two
#: short.
TRAITS: Final[dict[str, Traits]] = {
    "flooded": Traits(
        Prior(0.85, 0.30), Prior(0.95, 0.15), 0.15, 0.10, 0.07, 0.40, Prior(0.0065, 0.45),
        0.11, 4.0, 0.004, Prior(0.983, 0.012),
    ),
    "agm": Traits(
        Prior(1.20, 0.30), Prior(0.55, 0.15), 0.15, 0.10, 0.07, 0.40, Prior(0.0022, 0.45),
        0.14, 8.0, 0.006, Prior(0.997, 0.006),
    ),
    "gel": Traits(
        Prior(1.20, 0.30), Prior(0.55, 0.15), 0.15, 0.12, 0.07, 0.40, Prior(0.0022, 0.45),
        0.12, 8.0, 0.008, Prior(0.995, 0.008),
    ),
    "lead-calcium": Traits(
        Prior(0.85, 0.30), Prior(0.95, 0.15), 0.15, 0.10, 0.07, 0.40, Prior(0.0045, 0.50),
        0.11, 6.0, 0.006, Prior(0.988, 0.010),
    ),
    "lfp": Traits(
        Prior(7e-5, 0.50), Prior(2.0, 0.10), 10.0, 0.22, 0.015, 0.15, Prior(1e-6, 0.30), 0.002, 1.0,
        0.025, Prior(0.995, 0.006),
    ),
}  # fmt: skip

GAS_REFERENCE_VOLTS: Final = 2.40
GAS_VOLTS_PER_DECADE: Final = 0.20  # Tafel slope of gassing on lead, common practice
GAS_DOUBLING_CELSIUS: Final = 10.0  # common practice
POLARISATION_HOURS: Final = 1.0  # builds and fades; fitted with the rest of the tests
FRESH_MISSING: Final = 0.4  # missing charge that doubles the acceptance; fitted to the four tests
NEWTON_STEPS: Final = 3  # from a linear start within 1e-4 over all pushes that occur
MISSING_FLOOR: Final = 1e-5  # the law has no meaning closer to full than this
_LN10: Final = math.log(10.0)
_LN2: Final = math.log(2.0)


class Curve:
    """Rest volts of a cell by fraction of charge, piecewise linear, with its slope."""

    __slots__ = ("slopes", "socs", "volts")

    def __init__(self, chemistry: Chemistry) -> None:
        self.socs = [soc for soc, _ in chemistry.rest_volts]
        self.volts = [volts for _, volts in chemistry.rest_volts]
        self.slopes = [
            (self.volts[n + 1] - self.volts[n]) / (self.socs[n + 1] - self.socs[n])
            for n in range(len(self.socs) - 1)
        ]

    def piece(self, soc: float) -> int:
        n = 0
        last = len(self.slopes) - 1
        while n < last and soc > self.socs[n + 1]:
            n += 1
        return n

    def at(self, soc: float) -> float:
        n = self.piece(soc)
        return self.volts[n] + self.slopes[n] * (soc - self.socs[n])

    def slope(self, soc: float) -> float:
        return self.slopes[self.piece(soc)]

    def soc(self, volts: float) -> float:
        """The fraction of charge at a rested voltage, held to 0..1."""
        for n, slope in enumerate(self.slopes):
            if volts <= self.volts[n + 1]:
                return max(0.0, self.socs[n] + (volts - self.volts[n]) / slope)
        return 1.0


class Circuit:
    """The circuit of one bank's cells as far as it is known; figures as in `Traits`."""

    KEPT: ClassVar[tuple[str, ...]] = ("acceptance", "gassing", "power")
    __slots__ = ("acceptance", "curve", "fresh", "gassing", "lead", "ohmic", "power", "traits")

    def __init__(self, chemistry: Chemistry) -> None:
        self.traits = TRAITS[chemistry.name]
        self.curve = Curve(chemistry)
        self.lead = chemistry.lead
        self.fresh = 1.0 / FRESH_MISSING if self.lead else 0.0
        self.acceptance = self.traits.acceptance.figure
        self.power = self.traits.power.figure
        self.ohmic = self.traits.ohmic
        self.gassing = self.traits.gassing.figure

    def missing_resistance(self, soc: float) -> float:
        """Volts per unit rate that the missing charge puts in the way of a small current."""
        missing = 1.0 - soc
        if missing < MISSING_FLOOR:
            missing = MISSING_FLOOR
        room = math.exp(self.power * math.log(missing)) * (1.0 + missing * self.fresh)
        return self.acceptance / room

    def accept(self, soc: float, push: float) -> tuple[float, float]:
        """The stored rate that `push` volts above rest drive, and its derivative by the push."""
        kinetic = self.traits.kinetic
        slow = self.missing_resistance(soc)
        if push <= 0.0:
            return 0.0, 1.0 / (slow + self.ohmic)
        ohmic = self.ohmic
        stored = push / (slow + ohmic)
        slope = 1.0 / slow
        for _ in range(NEWTON_STEPS):
            grown = math.exp((push - stored * ohmic) / kinetic)
            slope = 0.5 * (grown + 1.0 / grown) / slow
            wanted = 0.5 * (grown - 1.0 / grown) * kinetic / slow
            stored += (wanted - stored) / (1.0 + ohmic * slope)
        return stored, slope / (1.0 + ohmic * slope)

    def missing_at(self, stored: float, push: float) -> float:
        """The charge still missing where `push` volts drive no more than a stored rate; 0..0.2."""
        drive = self.traits.kinetic * math.sinh(
            max(push - stored * self.ohmic, 0.02) / self.traits.kinetic
        )
        if not self.lead or stored <= 0.0:
            return 0.0
        return min(0.2, math.exp(math.log(stored * self.acceptance / drive) / self.power))

    def share(self, soc: float) -> float:
        return self.traits.share * soc**self.traits.share_power if soc > 0.0 else 0.0

    def gas(self, volts: float, celsius: float) -> float:
        return self.gassing * gas_factor(volts, celsius) if self.lead else 0.0

    def held(self, soc: float, polarisation: float, volts: float, celsius: float) -> float:
        """The net rate that a source holding `volts` sends in; never below the gas."""
        stored, _ = self.accept(soc, volts - self.curve.at(soc) - polarisation)
        return stored * (1.0 + self.share(soc)) + self.gas(volts, celsius)

    def volts(self, soc: float, polarisation: float, stored: float) -> float:
        """Volts of a cell that stores at a rate (negative: that is discharged)."""
        rest = self.curve.at(soc) + polarisation
        if stored <= 0.0:
            return rest + stored * self.ohmic
        kinetic = self.traits.kinetic
        push = kinetic * math.asinh(stored * self.missing_resistance(soc) / kinetic)
        return rest + stored * self.ohmic + push


def gas_factor(volts: float, celsius: float) -> float:
    """How much more a cell gasses than at 2.40 V and 25 °C."""
    return math.exp(
        (volts - GAS_REFERENCE_VOLTS) * _LN10 / GAS_VOLTS_PER_DECADE
        + (celsius - REFERENCE_CELSIUS) * _LN2 / GAS_DOUBLING_CELSIUS
    )
