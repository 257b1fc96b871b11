"""Charging from the engine: what a hot alternator at idle really has, and a DC-DC charger on it.

The figure on an alternator is its output cold and fast. Hot, in the engine's heat, it gives some
three quarters of that at cruising speed and some two fifths at idle; what the vehicle itself takes
comes off first. A DC-DC charger has to live on what is left, at the *lowest* voltage that arrives.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

#: Of the nameplate, hot (common practice; the maker's hot curve is better).
HOT_CRUISE: Final = 0.75
HOT_IDLE: Final = 0.40
#: What the vehicle takes with lights, fans and pump, amps of a 12 V system (common practice).
VEHICLE_AMPS: Final = 30.0
#: An alternator for starting batteries is not made to give more than half of it for hours
#: (common practice), least of all into LFP at idle, where its own fan hardly turns.
ALL_DAY: Final = 0.5
#: DC-DC chargers give back 88 to 94 % (common practice).
EFFICIENCY: Final = 0.90
#: Volts that arrive at a DC-DC charger with the engine running, for each 12 V of the vehicle:
#: regulators that save fuel let it fall that low (common practice).
LOWEST_INPUT: Final = 12.5


@dataclass(frozen=True, slots=True)
class EngineCharging:
    """What an alternator can spare, amps of the vehicle's system, and the DC-DC charger for it.

    `dc_dc_amps` is output into the house bank that idle can feed, `dc_dc_cruise_amps` the same at
    cruising speed; `all_day_amps` bounds both.
    """

    nameplate: float
    hot_idle: float
    hot_cruise: float
    spare_idle: float
    spare_cruise: float
    all_day_amps: float
    dc_dc_amps: float
    dc_dc_cruise_amps: float


def dc_dc_input(
    out_amps: float,
    out_volts: float,
    in_volts: float = LOWEST_INPUT,
    efficiency: float = EFFICIENCY,
) -> float:
    """Amps that a DC-DC charger takes: 30 A at 14.4 V from 12.5 V -> 38.4 A."""
    return out_amps * out_volts / (in_volts * efficiency)


def engine_charging(
    nameplate: float,
    house_volts: float,
    *,
    in_volts: float = LOWEST_INPUT,
    hot_idle: float | None = None,
    hot_cruise: float | None = None,
    vehicle_amps: float = VEHICLE_AMPS,
    efficiency: float = EFFICIENCY,
) -> EngineCharging:
    """From the nameplate, or from the maker's hot figures where they are known."""
    idle = HOT_IDLE * nameplate if hot_idle is None else hot_idle
    cruise = HOT_CRUISE * nameplate if hot_cruise is None else hot_cruise
    spare_idle = max(0.0, idle - vehicle_amps)
    spare_cruise = max(0.0, cruise - vehicle_amps)
    most = ALL_DAY * nameplate
    per_input = in_volts * efficiency / house_volts
    return EngineCharging(
        nameplate,
        idle,
        cruise,
        spare_idle,
        spare_cruise,
        most,
        min(spare_idle, most) * per_input,
        min(spare_cruise, most) * per_input,
    )
