"""What is charged, by what, and how its chemistry wants it: pure data.

`Site` holds banks and sources as the owner described them; `Chemistry` holds what the trade knows
of a kind of battery, each figure with its source; `compensated` moves a set-point to a temperature
the way real chargers do, within a clamp. What the owner left out stays None: unknown, not assumed.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import Final, NamedTuple

REFERENCE_CELSIUS: Final = 25.0


class Span(NamedTuple):
    """A range with the figure to start from: `low <= typical <= high`."""

    low: float
    typical: float
    high: float


@dataclass(frozen=True, slots=True)
class Chemistry:
    """A kind of battery. Voltages are per cell at 25 °C, compensation in mV per °C and cell.

    `end_of_charge` is a fraction of the 20 h capacity, as amps. `rest_volts` are (fraction of
    charge, rested volts per cell) from empty to full. `charge_amps` is the highest charging
    current as a fraction of the 20 h capacity. `sources` says where each figure comes from.
    """

    name: str
    words: str
    cells_per_12_volts: int
    absorption: Span
    float_: Span
    equalize: Span | None
    compensation_mv: Span
    compensation_celsius: tuple[float, float]
    end_of_charge: float
    charge_amps: float
    charge_celsius: tuple[float, float]
    peukert: Span
    coulombic_efficiency: float
    self_discharge_per_month: float
    rest_volts: tuple[tuple[float, float], ...]
    gassing_volts: float | None
    needs_float: bool
    sources: Mapping[str, str]

    @property
    def lead(self) -> bool:
        return self.cells_per_12_volts == 6


_HANDBOOK_CP = "common practice"

_FLOODED_REST: Final = (
    (0.0, 11.89 / 6),
    (0.25, 12.06 / 6),
    (0.5, 12.24 / 6),
    (0.75, 12.45 / 6),
    (1.0, 12.65 / 6),
)
_AGM_REST: Final = (
    (0.0, 11.75 / 6),
    (0.25, 12.0 / 6),
    (0.5, 12.3 / 6),
    (0.75, 12.6 / 6),
    (1.0, 12.9 / 6),
)
_GEL_REST: Final = (
    (0.0, 11.80 / 6),
    (0.25, 12.00 / 6),
    (0.5, 12.35 / 6),
    (0.75, 12.65 / 6),
    (1.0, 12.85 / 6),
)
# LFP rest voltage: the simses 26650 file, lowered toward the mean of three published curves that
# differ by up to 80 mV at mid-charge; used only at the ends, never between 20 and 90 percent.
_LFP_REST: Final = (
    (0.0, 2.0),
    (0.1, 3.09),
    (0.2, 3.20),
    (0.3, 3.235),
    (0.5, 3.28),
    (0.7, 3.29),
    (0.8, 3.315),
    (0.9, 3.325),
    (0.95, 3.335),
    (0.99, 3.36),
    (1.0, 3.45),
)

_LEAD_SOURCES: Final[dict[str, str]] = {
    "compensation_celsius": "common practice: chargers clamp compensation, here at 0 and 50 °C",
    "peukert": _HANDBOOK_CP,
    "coulombic_efficiency": "common practice: lead-acid about 85 % overall, more below gassing",
    "self_discharge_per_month": "common practice: 4 to 6 % a month",
    "charge_amps": _HANDBOOK_CP,
    "charge_celsius": "common practice: no charging above 50 °C, nor frozen",
}


def _sources(**more: str) -> Mapping[str, str]:
    return MappingProxyType({**_LEAD_SOURCES, **more})


CHEMISTRIES: Final[Mapping[str, Chemistry]] = MappingProxyType(
    {
        chemistry.name: chemistry
        for chemistry in (
            Chemistry(
                name="flooded",
                words="flooded lead-acid",
                cells_per_12_volts=6,
                absorption=Span(2.40, 2.43, 2.47),
                float_=Span(2.17, 2.22, 2.25),
                equalize=Span(2.50, 2.58, 2.67),
                compensation_mv=Span(-6.0, -5.0, -4.0),
                compensation_celsius=(0.0, 50.0),
                end_of_charge=0.015,
                charge_amps=0.25,
                charge_celsius=(-10.0, 50.0),
                peukert=Span(1.20, 1.25, 1.30),
                coulombic_efficiency=0.85,
                self_discharge_per_month=0.05,
                rest_volts=_FLOODED_REST,
                gassing_volts=2.39,
                needs_float=True,
                sources=_sources(
                    absorption="common practice, 14.4 to 14.8 V for 6 cells",
                    float_="common practice, 13.0 to 13.5 V for 6 cells",
                    equalize="common practice, 15.0 to 16.0 V for 6 cells",
                    compensation_mv="common practice, -4 to -6 mV per °C and cell",
                    end_of_charge="common practice, 1.5 to 2 % of the 20 h capacity",
                    rest_volts="BCI table (secondary copies); Bode potentials agree to 0.02 V",
                    gassing_volts="from memory, 2.39 V per cell at 25 °C",
                ),
            ),
            Chemistry(
                name="gel",
                words="gelled lead-acid",
                cells_per_12_volts=6,
                absorption=Span(2.33, 2.36, 2.40),
                float_=Span(2.25, 2.27, 2.30),
                equalize=None,
                compensation_mv=Span(-5.0, -4.0, -3.0),
                compensation_celsius=(0.0, 50.0),
                end_of_charge=0.005,
                charge_amps=0.25,
                charge_celsius=(-10.0, 50.0),
                peukert=Span(1.10, 1.15, 1.25),
                coulombic_efficiency=0.92,
                self_discharge_per_month=0.04,
                rest_volts=_GEL_REST,
                gassing_volts=2.39,
                needs_float=True,
                sources=_sources(
                    absorption="from memory, 14.1 to 14.2 V for 6 cells, widened",
                    float_="from memory, 2.25 to 2.30 V per cell",
                    equalize="from memory: never",
                    compensation_mv="from memory, -3 to -5 mV per °C and cell",
                    end_of_charge="common practice, 0.5 % as for AGM",
                    rest_volts="from memory",
                    gassing_volts="from memory, 2.39 V per cell at 25 °C",
                ),
            ),
            Chemistry(
                name="agm",
                words="absorbed-mat lead-acid",
                cells_per_12_volts=6,
                absorption=Span(2.38, 2.40, 2.465),
                float_=Span(2.25, 2.27, 2.30),
                equalize=None,
                compensation_mv=Span(-5.0, -4.0, -3.0),
                compensation_celsius=(0.0, 50.0),
                end_of_charge=0.005,
                charge_amps=0.30,
                charge_celsius=(-10.0, 50.0),
                peukert=Span(1.05, 1.10, 1.15),
                coulombic_efficiency=0.93,
                self_discharge_per_month=0.04,
                rest_volts=_AGM_REST,
                gassing_volts=2.39,
                needs_float=True,
                sources=_sources(
                    absorption="common practice, 14.4 to 14.8 V for 6 cells",
                    float_="common practice, 13.5 to 13.8 V for 6 cells",
                    equalize="common practice: usually none",
                    compensation_mv="common practice, -3 to -5 mV per °C and cell",
                    end_of_charge="common practice, 0.5 % of the 20 h capacity",
                    rest_volts="one published AGM table, common practice",
                    gassing_volts="from memory, 2.39 V per cell at 25 °C",
                ),
            ),
            Chemistry(
                name="lead-calcium",
                words="sealed or low-maintenance lead-calcium",
                cells_per_12_volts=6,
                absorption=Span(2.40, 2.45, 2.50),
                float_=Span(2.20, 2.25, 2.30),
                equalize=Span(2.55, 2.60, 2.67),
                compensation_mv=Span(-5.0, -4.0, -3.0),
                compensation_celsius=(0.0, 50.0),
                end_of_charge=0.01,
                charge_amps=0.25,
                charge_celsius=(-10.0, 50.0),
                peukert=Span(1.10, 1.20, 1.30),
                coulombic_efficiency=0.88,
                self_discharge_per_month=0.04,
                rest_volts=_FLOODED_REST,
                gassing_volts=2.39,
                needs_float=True,
                sources=_sources(
                    absorption="from memory: between flooded and 15.0 V for 6 cells",
                    float_="from memory",
                    equalize="from memory",
                    compensation_mv="from memory",
                    end_of_charge="common practice, 1 % of the 20 h capacity",
                    rest_volts="BCI table for flooded cells, from memory for lead-calcium",
                    gassing_volts="from memory, 2.39 V per cell at 25 °C",
                ),
            ),
            Chemistry(
                name="lfp",
                words="lithium iron phosphate",
                cells_per_12_volts=4,
                absorption=Span(3.45, 3.55, 3.65),
                float_=Span(3.35, 3.375, 3.40),
                equalize=None,
                compensation_mv=Span(0.0, 0.0, 0.0),
                compensation_celsius=(0.0, 50.0),
                end_of_charge=0.03,
                charge_amps=0.5,
                charge_celsius=(0.0, 60.0),
                peukert=Span(1.0, 1.02, 1.05),
                coulombic_efficiency=0.99,
                self_discharge_per_month=0.025,
                rest_volts=_LFP_REST,
                gassing_volts=None,
                needs_float=False,
                sources=MappingProxyType(
                    {
                        "absorption": "common practice, 14.2 to 14.6 V for 4 cells; lower in use",
                        "float_": "common practice, 13.4 to 13.6 V for 4 cells, or none",
                        "equalize": "common practice: none",
                        "compensation_mv": "common practice: none",
                        "compensation_celsius": "not used",
                        "end_of_charge": "common practice, 2 to 5 % of capacity",
                        "charge_amps": "common practice, 0.5 C",
                        "charge_celsius": "common practice, 0 to 60 °C by cell data sheets",
                        "peukert": "common practice, about 1.05",
                        "coulombic_efficiency": "from memory, at least 99 %",
                        "self_discharge_per_month": "common practice, 2 to 3 % a month",
                        "rest_volts": "between three published curves, 80 mV apart at mid-charge",
                    }
                ),
            ),
        )
    }
)


@dataclass(frozen=True, slots=True)
class SetPoints:
    """What the source is set to: volts of the whole bank at 25 °C, None where unknown."""

    absorption: float | None = None
    float_: float | None = None
    low_hold: float | None = None
    equalize: float | None = None
    compensation_mv_per_celsius_per_cell: float | None = None
    compensation_celsius: tuple[float, float] | None = None
    end_of_charge_amps: float | None = None
    end_of_charge_seconds: float | None = None
    absorption_hours: float | None = None


@dataclass(frozen=True, slots=True)
class Protection:
    """Where the battery's own protection opens: volts of a cell, °C. None where not known."""

    high_cell_volts: float | None = None
    low_cell_volts: float | None = None
    low_celsius: float | None = None
    high_celsius: float | None = None


@dataclass(frozen=True, slots=True)
class Bank:
    """The batteries as one unit. `amp_hours` at the 20 h rate, the whole bank, as labelled.

    `cable_amps` and `fuse_amps` are ratings of the bank's own cable and fuse;
    `inverter_cut_off_volts` is where an inverter on it gives up. `own_watts` is what the computer
    that watches it draws from it, as its owner measured; `laid_up` that nobody lives on it.
    """

    id: str
    chemistry: Chemistry
    nominal_volts: int
    amp_hours: float
    series: int | None = None
    parallel: int | None = None
    lowest_soc: float | None = None
    standing_amps: float | None = None
    set_points: SetPoints = field(default_factory=SetPoints)
    cable_amps: float | None = None
    fuse_amps: float | None = None
    inverter_cut_off_volts: float | None = None
    protection: Protection = field(default_factory=Protection)
    own_watts: float | None = None
    laid_up: bool = False

    @property
    def cells(self) -> int:
        """Cells in series."""
        return self.chemistry.cells_per_12_volts * self.nominal_volts // 12

    @property
    def end_of_charge_amps(self) -> float:
        """Current at which absorption may end: as configured, else the chemistry's fraction."""
        given = self.set_points.end_of_charge_amps
        return given if given is not None else self.chemistry.end_of_charge * self.amp_hours


class SourceKind(StrEnum):
    AC_CHARGER = "ac-charger"
    SOLAR = "solar"
    ALTERNATOR = "alternator"
    DC_DC = "dc-dc"
    FIXED = "fixed"
    #: The owner did not say; never assumed to be one of the above.
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Source:
    """What pushes current into a bank.

    `cable_amps` and `fuse_amps` are ratings of its DC cable and fuse. `ac_volts` is the nominal
    voltage of what feeds it, `ac_expected` that this should always be there.
    """

    id: str
    bank: str
    kind: SourceKind
    rated_amps: float | None = None
    cable_amps: float | None = None
    fuse_amps: float | None = None
    ac_volts: float | None = None
    ac_expected: bool = False


@dataclass(frozen=True, slots=True)
class Link:
    """A device as the engine may know it: its name, how often it should speak."""

    device: str
    period_seconds: float


@dataclass(frozen=True, slots=True)
class Override:
    """What the owner changed of a condition, by its name. None: as the table has it.

    `target` is the bank or source that it is for, None for the whole site. `limit` and `deadband`
    are in the unit of the condition's row; `off`: not judged at all.
    """

    condition: str
    target: str | None = None
    limit: float | None = None
    deadband: float | None = None
    on_delay_seconds: float | None = None
    off_delay_seconds: float | None = None
    priority: int | None = None
    off: bool | None = None


@dataclass(frozen=True, slots=True)
class Site:
    banks: tuple[Bank, ...]
    sources: tuple[Source, ...] = ()
    links: tuple[Link, ...] = ()
    latitude: float | None = None
    longitude: float | None = None
    overrides: tuple[Override, ...] = ()

    def bank(self, bank_id: str) -> Bank:
        for bank in self.banks:
            if bank.id == bank_id:
                return bank
        raise KeyError(bank_id)


def compensated(
    volts: float,
    celsius: float | None,
    mv_per_celsius_per_cell: float,
    cells: int,
    clamp: tuple[float, float] = (0.0, 50.0),
) -> float:
    """A set-point given at 25 °C, moved to `celsius`; unmoved where the temperature is unknown.

    13.4 V, 30 °C, -5 mV, 6 cells -> 13.25 V (a published worked example).
    """
    if celsius is None:
        return volts
    clamped = min(max(celsius, clamp[0]), clamp[1])
    return volts + mv_per_celsius_per_cell * 1e-3 * cells * (clamped - REFERENCE_CELSIUS)


def rated_hour_discharge_hours(
    amp_hours: float, rated_hours: float, amps: float, peukert: float
) -> float:
    """Hours to empty by Peukert in the rated-hour form: H (C / (I H))^k.

    100 Ah at 20 h, 10 A, 1.2 -> 8.706 h.
    """
    return float(rated_hours * (amp_hours / (amps * rated_hours)) ** peukert)


def rest_soc(chemistry: Chemistry, volts_per_cell: float) -> float:
    """Fraction of charge at a *rested* cell voltage, by linear interpolation, held to 0..1."""
    curve = chemistry.rest_volts
    if volts_per_cell <= curve[0][1]:
        return curve[0][0]
    for (low_soc, low_volts), (high_soc, high_volts) in itertools.pairwise(curve):
        if volts_per_cell <= high_volts:
            share = (volts_per_cell - low_volts) / (high_volts - low_volts)
            return low_soc + share * (high_soc - low_soc)
    return curve[-1][0]
