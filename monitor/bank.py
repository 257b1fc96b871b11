"""What is charged, by what, and how its chemistry wants it: pure data.

`Site` holds banks and sources as the owner described them; `Chemistry` is the shape of what the
trade knows of a kind of battery (the kinds themselves are in `chemistries.py`); `compensated` moves
a set-point to a temperature the way real chargers do, within a clamp. What the owner left out stays
None: unknown, not assumed.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
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
