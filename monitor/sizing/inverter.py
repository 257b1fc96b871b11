"""The inverter's cable, the biggest aboard: amps at the lowest voltage, and what a surge does.

An inverter draws constant power, so its current is highest when the bank is lowest. The cable is
chosen for that current held for hours; a surge of seconds only has to leave enough voltage that
the inverter does not stop.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from monitor.bank import Bank
from monitor.engine.cell import TRAITS, Curve

#: Common practice: good inverters give 85 to 92 % of what they take at high load.
EFFICIENCY: Final = 0.88
#: Volts of a cell at which inverters usually stop: 10.5 V of six lead cells (common practice),
#: 2.8 V of LFP (11.2 V of four; common practice).
LEAD_CUT_OFF: Final = 1.75
LFP_CUT_OFF: Final = 2.8
#: A bolted or class T fuse holds twice its rating for some seconds (from memory: 1 to 60 s).
SURGE_OF_FUSE: Final = 2.0
#: Charge at which the surge is tried: half full (our choice).
SURGE_SOC: Final = 0.5


@dataclass(frozen=True, slots=True)
class InverterDraw:
    """DC amps of an inverter: `amps` held, `surge_amps` for seconds; volts where each counts."""

    watts: float
    surge_watts: float
    efficiency: float
    lowest_volts: float
    amps: float
    surge_amps: float


@dataclass(frozen=True, slots=True)
class Surge:
    """A surge at the inverter's own terminals: does it hold on above its cut-off?"""

    bank_volts: float
    cable_volts: float
    inverter_volts: float
    cut_off_volts: float

    @property
    def holds(self) -> bool:
        return self.inverter_volts > self.cut_off_volts


def cut_off_volts(bank: Bank) -> float:
    """Where the inverter gives up: as configured, else what is usual for the cells."""
    if bank.inverter_cut_off_volts is not None:
        return bank.inverter_cut_off_volts
    return (LEAD_CUT_OFF if bank.chemistry.lead else LFP_CUT_OFF) * bank.cells


def inverter_draw(
    watts: float, surge_watts: float, lowest_volts: float, efficiency: float = EFFICIENCY
) -> InverterDraw:
    """DC amps at the lowest voltage: 2000 W, 88 %, 10.5 V -> 216 A."""
    per_watt = 1.0 / (efficiency * lowest_volts)
    return InverterDraw(
        watts, surge_watts, efficiency, lowest_volts, watts * per_watt, surge_watts * per_watt
    )


def surge(bank: Bank, surge_amps: float, cable_ohms: float, soc: float = SURGE_SOC) -> Surge:
    """What is left at the inverter: rest voltage, less the cells' own resistance, less the cable.

    The cells' resistance is the prior of the engine's circuit for a healthy bank at 25 °C.
    """
    rest = Curve(bank.chemistry).at(soc)
    sag = TRAITS[bank.chemistry.name].ohmic * surge_amps / bank.amp_hours
    posts = (rest - sag) * bank.cells
    cable = surge_amps * cable_ohms
    return Surge(posts, cable, posts - cable, cut_off_volts(bank))
