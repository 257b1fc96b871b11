"""The AC side of a charger: input amps, breaker, what a supply has left, the generator.

Input amps follow from what leaves as DC: I = Vdc Idc / (Vac x efficiency x power factor), as in
rectifier sizing notes. A charger without power factor correction draws its current in peaks: at a
power factor of 0.70 the wires carry 40 % more amps than the watts need.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

#: A load that runs three hours or more takes 80 % of a breaker at most (NEC 210.20(A)). Where 230 V
#: is used no such rule stands in law; the same margin is taken (our choice).
CONTINUOUS_SHARE: Final = 0.80
#: What chargers usually have where the label is silent (common practice).
EFFICIENCY: Final = 0.85
UNCORRECTED: Final = 0.70
CORRECTED: Final = 0.99

#: Breakers sold: NEC 240.6(A) for 120 V, IEC 60898-1 for 230 V (from memory).
BREAKERS: Final[dict[int, tuple[int, ...]]] = {
    120: (15, 20, 25, 30, 35, 40, 45, 50),
    230: (6, 10, 13, 16, 20, 25, 32, 40, 50, 63),
}
#: What is met at a site: NEC 551.71 (15 A household; 20, 30, 50 A with two legs); 230 V pitches
#: (common practice).
SUPPLIES: Final[dict[int, tuple[int, ...]]] = {120: (15, 20, 30, 50), 230: (6, 10, 16, 32)}
#: A roof air conditioner running, amps (common practice: some 1.6 kW).
AIR_CONDITIONER: Final[dict[int, float]] = {120: 13.5, 230: 7.0}

#: Generators lose 3.5 % each 300 m of altitude, and 1 % each 5.5 °C above 25 (common practice).
LOST_PER_METRE: Final = 0.035 / 300.0
LOST_PER_CELSIUS: Final = 0.01 / 5.5


@dataclass(frozen=True, slots=True)
class AcInput:
    """What a charger takes from its supply at full output."""

    amps: float
    watts: float
    volt_amps: float
    breaker: int | None


@dataclass(frozen=True, slots=True)
class Supply:
    """A supply with the charger on it: what it may give for hours, and what is left of that.

    `charger_dc_amps` is what the charger may be turned to beside an air conditioner.
    """

    rating: int
    continuous_amps: float
    left_amps: float
    air_conditioner_fits: bool
    charger_dc_amps: float


def input_amps(
    dc_volts: float,
    dc_amps: float,
    ac_volts: float,
    efficiency: float = EFFICIENCY,
    power_factor: float = UNCORRECTED,
) -> float:
    """AC amps of a charger: 14.4 V, 60 A, 0.85, 120 V: at PF 0.70 12.10 A, at 0.99 8.56 A."""
    return dc_volts * dc_amps / (ac_volts * efficiency * power_factor)


def system_of(ac_volts: float) -> int:
    """120 or 230: whose breakers and supplies count (below 180 V the first)."""
    return 120 if ac_volts < 180.0 else 230


def breaker_for(amps: float, ac_volts: float) -> int | None:
    """The smallest breaker that carries these amps for hours; None beyond the largest."""
    return next(
        (
            rating
            for rating in BREAKERS[system_of(ac_volts)]
            if amps <= CONTINUOUS_SHARE * rating + 1e-9
        ),
        None,
    )


def ac_input(
    dc_volts: float,
    dc_amps: float,
    ac_volts: float,
    efficiency: float = EFFICIENCY,
    power_factor: float = UNCORRECTED,
) -> AcInput:
    amps = input_amps(dc_volts, dc_amps, ac_volts, efficiency, power_factor)
    volt_amps = amps * ac_volts
    return AcInput(amps, volt_amps * power_factor, volt_amps, breaker_for(amps, ac_volts))


def supply(rating: int, charger: AcInput, dc_amps: float, air_conditioner: float) -> Supply:
    """A supply of `rating` amps (one leg of it) with the charger, then an air conditioner."""
    most = CONTINUOUS_SHARE * rating
    left = most - charger.amps
    beside = max(0.0, most - air_conditioner)
    able = min(dc_amps, dc_amps * beside / charger.amps)
    return Supply(rating, most, left, left >= air_conditioner, able)


def generator_volt_amps(
    charger: AcInput,
    ac_volts: float,
    other_amps: float = 0.0,
    altitude_metres: float = 0.0,
    celsius: float = 25.0,
) -> float:
    """Nameplate volt-amps of a generator that runs the charger and `other_amps` for hours.

    Sized in volt-amps, so that a low power factor counts; loaded to 80 % of what altitude and heat
    leave of it.
    """
    return (
        (charger.volt_amps + other_amps * ac_volts)
        / CONTINUOUS_SHARE
        / generator_share(altitude_metres, celsius)
    )


def generator_share(altitude_metres: float, celsius: float) -> float:
    """What altitude and heat leave of a nameplate: 1500 m and 36 °C -> 0.81."""
    lost = LOST_PER_METRE * max(0.0, altitude_metres)
    warm = LOST_PER_CELSIUS * max(0.0, celsius - 25.0)
    return max(0.1, 1.0 - lost) * max(0.1, 1.0 - warm)


def nameplate(volt_amps: float) -> float:
    """Rounded up to the next 100 VA."""
    return 100.0 * math.ceil(volt_amps / 100.0 - 1e-9)
