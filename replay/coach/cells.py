"""What the simulated cells are made of: one frozen table of figures for each kind of battery.

These are the simulation's own figures. They follow the same trade knowledge as the rest of the
program but not the same tables, so that a method which merely knows one curve is found out here.

Units: volts per cell at 25 °C; currents as a fraction of the 20 h amp-hours per hour ("C"), so that
a resistance is volts per C and the same cell serves any size of bank.

Lead-acid rest voltage comes from the acid: volts = 0.845 + density (DOE-HDBK-1084-95), the density
running almost linearly from empty to full.

How the figures were chosen: `exchange`, `acceptance`, `transfer`, `available` and `gas` of AGM and
flooded were fitted to four
published charging tests (see `published.py`, which also says how well they are met). Gel and
lead-calcium have no test: they are placed beside these two by common practice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

#: Cell volts above the density of the acid in g/cm3 (DOE-HDBK-1084-95).
DENSITY_TO_VOLTS: Final = 0.845
#: Side reactions grow tenfold over this many volts and double over this many °C (common practice).
GAS_DECADE_VOLTS: Final = 0.2
DOUBLING_CELSIUS: Final = 10.0


@dataclass(frozen=True, slots=True)
class LeadCell:
    """A lead-acid cell: two wells of charge, a charge-transfer branch, a gas branch beside it.

    `density_empty`, `density_full`: acid; `density_bow` is how far mid-charge lies above a line.
    `available`: share of the charge that the current reaches at once; the rest follows at
    `exchange` per hour of head difference on charge, `release` on discharge (the kinetic battery
    model, Manwell & McGowan, Solar Energy 50, 1993, 399-405). `series` and `transfer`: volts per C.
    `acceptance`: volts per C divided by the empty share of the near well: why current tapers.
    `gas`: side current in C at 2.40 V per cell, `recombines` the share of it that turns to heat
    inside. `efficiency`: share of the transferred charge that is stored. `surface`: share of the
    charging overvoltage that stays for hours. `farads`: double layer, in farads per amp-hour.
    `self_discharge`: fraction a month.
    """

    density_empty: float
    density_full: float
    density_bow: float
    available: float
    exchange: float
    release: float
    series: float
    transfer: float
    acceptance: float
    gas: float
    efficiency: float
    surface: float
    farads: float
    self_discharge: float
    recombines: float


@dataclass(frozen=True, slots=True)
class LithiumCell:
    """An LFP cell: one well, flat curve with steep ends, hysteresis, two RC pairs.

    Resistances in volts per C, hysteresis in volts to either side.
    """

    series: float
    quick: float
    quick_seconds: float
    slow: float
    slow_seconds: float
    hysteresis: float
    efficiency: float
    self_discharge: float


#: Acid densities: flooded by the BCI table's specific gravities; AGM and gel carry stronger
#: acid (from memory). Resistances: 4 to 6 milliohm for 12 V 100 Ah (common practice).
LEAD_CELLS: Final[Mapping[str, LeadCell]] = MappingProxyType(
    {
        "flooded": LeadCell(
            density_empty=1.128,
            density_full=1.265,
            density_bow=-0.002,
            available=0.4,
            exchange=0.42,
            release=0.25,
            series=0.045,
            transfer=0.035,
            acceptance=0.12,
            gas=0.007,
            efficiency=0.95,
            surface=0.12,
            farads=8.0,
            self_discharge=0.05,
            recombines=0.05,
        ),
        "agm": LeadCell(
            density_empty=1.116,
            density_full=1.300,
            density_bow=0.006,
            available=0.6,
            exchange=1.0,
            release=0.35,
            series=0.032,
            transfer=0.07,
            acceptance=0.19,
            gas=0.0015,
            efficiency=0.97,
            surface=0.12,
            farads=8.0,
            self_discharge=0.04,
            recombines=0.97,
        ),
        "gel": LeadCell(
            density_empty=1.122,
            density_full=1.297,
            density_bow=0.010,
            available=0.5,
            exchange=0.7,
            release=0.28,
            series=0.045,
            transfer=0.055,
            acceptance=0.15,
            gas=0.0022,
            efficiency=0.97,
            surface=0.12,
            farads=8.0,
            self_discharge=0.035,
            recombines=0.97,
        ),
        "lead-calcium": LeadCell(
            density_empty=1.130,
            density_full=1.275,
            density_bow=-0.001,
            available=0.45,
            exchange=0.55,
            release=0.27,
            series=0.042,
            transfer=0.045,
            acceptance=0.14,
            gas=0.004,
            efficiency=0.96,
            surface=0.14,
            farads=8.0,
            self_discharge=0.035,
            recombines=0.30,
        ),
    }
)

#: LFP: about 1 milliohm for a 100 Ah cell with its links; hysteresis and relaxation from memory.
LITHIUM_CELL: Final = LithiumCell(
    series=0.060,
    quick=0.025,
    quick_seconds=35.0,
    slow=0.040,
    slow_seconds=1500.0,
    hysteresis=0.008,
    efficiency=0.995,
    self_discharge=0.025,
)

#: Cells in series for 12 V nominal.
CELLS_PER_12_VOLTS: Final[Mapping[str, int]] = MappingProxyType(
    {"flooded": 6, "agm": 6, "gel": 6, "lead-calcium": 6, "lfp": 4}
)
