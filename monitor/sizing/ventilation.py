"""Air for a battery compartment: IEC 62485-2, and what overcharge makes of water.

Q = 0.05 n Igas C / 1000 cubic metres an hour, where 0.05 = 24 (dilution to under 4 % hydrogen)
x 0.42e-3 (m3 of hydrogen an Ah and cell) x 5 (safety); each of two openings, low in and high out,
A = 28 Q square centimetres. Lithium cells make no gas in use and are not in that standard.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

DILUTION: Final = 0.05
OPENING: Final = 28.0
#: Gas current, mA for each Ah: (float, boost) (IEC 62485-2, secondary copies; sealed up to 40 °C).
VENTED_GAS: Final = (5.0, 20.0)
SEALED_GAS: Final = (1.0, 8.0)
SEALED: Final = frozenset({"agm", "gel"})
#: Each of two openings of a coach's battery compartment, cm2 (NEC 552.10(D): 1100 mm2).
COACH_OPENING: Final = 11.0

#: Faraday's law, from CODATA 2018: coulombs a mole; two electrons for each molecule.
FARADAY: Final = 96485.33212
WATER_GRAMS_PER_MOLE: Final = 18.01528
GAS_CONSTANT: Final = 8.314462618
PASCALS: Final = 101_325.0
COULOMBS_PER_AMP_HOUR: Final = 3600.0


@dataclass(frozen=True, slots=True)
class Ventilation:
    """Air for one way of charging: cubic metres an hour, and each opening in cm2."""

    gas_milliamps_per_amp_hour: float
    cubic_metres_per_hour: float
    opening_square_cm: float


def gas_milliamps(chemistry: str, *, boost: bool) -> float:
    """mA for each Ah that count as gas: flooded at boost 20. KeyError for lithium: none."""
    if chemistry == "lfp":
        raise KeyError(chemistry)
    float_, boosted = SEALED_GAS if chemistry in SEALED else VENTED_GAS
    return boosted if boost else float_


def ventilation(cells: int, amp_hours: float, milliamps_per_amp_hour: float) -> Ventilation:
    """6 cells, 400 Ah, vented at boost (20 mA/Ah) -> 2.40 m3/h and twice 67.2 cm2.

    `cells` in series, `amp_hours` of the whole bank; strings in parallel are in the amp-hours.
    """
    air = DILUTION * cells * milliamps_per_amp_hour * amp_hours * 1e-3
    return Ventilation(milliamps_per_amp_hour, air, OPENING * air)


def ventilation_by_current(cells: int, amps: float) -> Ventilation:
    """For a source that cannot turn itself down: all its amps may become gas."""
    air = DILUTION * cells * amps
    return Ventilation(0.0, air, OPENING * air)


def water_grams(overcharge_amp_hours: float, cells: int = 1) -> float:
    """Water that overcharge takes: 0.3361 g for each Ah and cell."""
    per_amp_hour = WATER_GRAMS_PER_MOLE * COULOMBS_PER_AMP_HOUR / (2.0 * FARADAY)
    return per_amp_hour * overcharge_amp_hours * cells


def hydrogen_litres(overcharge_amp_hours: float, cells: int = 1, celsius: float = 25.0) -> float:
    """Hydrogen that overcharge makes: 0.4181 L for each Ah and cell at 0 °C, 0.4564 at 25 °C."""
    molar = 1000.0 * GAS_CONSTANT * (celsius + 273.15) / PASCALS
    per_amp_hour = molar * COULOMBS_PER_AMP_HOUR / (2.0 * FARADAY)
    return per_amp_hour * overcharge_amp_hours * cells
