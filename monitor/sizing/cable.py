"""A DC cable on paper: its resistance, its drop, its heat, at a current and a temperature.

Lengths are ONE WAY, as the cable runs from the source to the battery; both legs, there and back,
are counted here. Joints are extra: `joint_ohms` for all lugs, switches and fuses of the circuit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from monitor.sizing.ampacity import TABLE_CELSIUS, conductor_celsius
from monitor.sizing.conductors import Conductor, copper_factor

METRES_PER_FOOT: Final = 0.3048


@dataclass(frozen=True, slots=True)
class Drop:
    """What a cable does to a current: volts and watts over both legs, copper at `celsius`."""

    volts: float
    ohms: float
    watts: float
    watts_per_metre: float
    celsius: float


def loop_ohms(
    conductor: Conductor, one_way_metres: float, celsius: float = 20.0, *, parallel: int = 1
) -> float:
    """Ohms there and back, copper at `celsius`: 35 mm2, 3 m, 20 °C -> 3.32 milliohm."""
    leg = conductor.ohms_per_metre * one_way_metres * copper_factor(celsius)
    return 2.0 * leg / parallel


def expected_drop(
    conductor: Conductor,
    one_way_metres: float,
    amps: float,
    copper_celsius: float = 20.0,
    *,
    parallel: int = 1,
    joint_ohms: float = 0.0,
) -> Drop:
    """The drop at a current with the copper at a temperature: what a meter should find.

    50 A through 35 mm2, 3 m and 3 m back, 20 °C -> 0.166 V.
    """
    ohms = loop_ohms(conductor, one_way_metres, copper_celsius, parallel=parallel) + joint_ohms
    watts = ohms * amps * amps
    per_metre = (watts - joint_ohms * amps * amps) / (2.0 * one_way_metres)
    return Drop(ohms * amps, ohms, watts, per_metre, copper_celsius)


def running_drop(
    conductor: Conductor,
    one_way_metres: float,
    amps: float,
    insulation: int = 105,
    *,
    air_celsius: float = TABLE_CELSIUS,
    bundled: int = 2,
    parallel: int = 1,
    joint_ohms: float = 0.0,
) -> Drop:
    """The drop once the copper has warmed by its own heat in this air."""
    celsius = conductor_celsius(
        conductor, amps / parallel, insulation, air_celsius=air_celsius, bundled=bundled
    )
    return expected_drop(
        conductor, one_way_metres, amps, celsius, parallel=parallel, joint_ohms=joint_ohms
    )
