"""The kinds of battery that are known, each figure with its source: one table of data.

Whoever makes a bank takes its chemistry from `CHEMISTRIES`, by the name that a configuration uses;
whoever is given a bank finds it there. So the engine, which is given one, never reads this table.
Shapes and units: `Chemistry` in `bank.py`.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from monitor.bank import Chemistry, Span

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
