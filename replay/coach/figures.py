"""The true figure behind every channel a device can show: one table."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Final

from adapters.reading import Quantity
from replay.coach.lfp import LithiumBank
from replay.coach.plant import Plant

Getter = Callable[[Plant, str], float | str | None]


def look_at(plant: Plant, quantity: Quantity, owner: str) -> Callable[[], float | str | None]:
    """Gives what is true of `owner` at each call; None where there is nothing to tell."""
    return partial(FIGURES[quantity], plant, owner)


def _lower_half(plant: Plant, _: str) -> float:
    return plant.bank.halves(plant.posts)[0] - plant.half_difference


def _upper_half(plant: Plant, _: str) -> float:
    return plant.bank.halves(plant.posts)[1] + plant.half_difference


def _side(closed: Callable[[Plant], bool]) -> Getter:
    def get(plant: Plant, _: str) -> float | None:
        return None if plant.protection is None else float(closed(plant))

    return get


def _charge_closed(plant: Plant) -> bool:
    return plant.protection is None or plant.protection.charge_closed


def _discharge_closed(plant: Plant) -> bool:
    return plant.protection is None or plant.protection.discharge_closed


def _cell(get: Callable[[LithiumBank, str], float]) -> Getter:
    def cell_figure(plant: Plant, owner: str) -> float | None:
        bank = plant.bank
        return get(bank, owner) if isinstance(bank, LithiumBank) else None

    return cell_figure


def _numbered_cell(bank: LithiumBank, owner: str) -> float:
    return bank.cell_volts(int(owner.rsplit("#", 1)[1]))


def _input_volts(plant: Plant, owner: str) -> float | None:
    source = plant.source(owner)
    if source.model.kind != "solar" or not source.on:
        return None
    # A panel's working voltage hardly depends on the light (from memory: 36 V for 72 cells).
    return 36.0 + 1.5 * min(plant.sky.irradiance / 1000.0, 1.0)


def _input_amps(plant: Plant, owner: str) -> float | None:
    volts = _input_volts(plant, owner)
    source = plant.source(owner)
    return None if volts is None else source.amps * source.volts / 0.96 / volts


FIGURES: Final[dict[Quantity, Getter]] = {
    Quantity.BANK_VOLTS: lambda plant, _: plant.posts,
    Quantity.BANK_AMPS: lambda plant, _: plant.shunt_amps,
    Quantity.BANK_CELSIUS: lambda plant, _: plant.case_celsius,
    Quantity.BANK_SOC: lambda plant, _: plant.bank.soc,
    Quantity.LOWER_HALF_VOLTS: _lower_half,
    Quantity.UPPER_HALF_VOLTS: _upper_half,
    Quantity.LOAD_AMPS: lambda plant, _: plant.load_amps,
    Quantity.AMBIENT_CELSIUS: lambda plant, _: plant.sky.indoor_celsius,
    Quantity.CHARGE_PERMITTED: _side(_charge_closed),
    Quantity.DISCHARGE_PERMITTED: _side(_discharge_closed),
    Quantity.SOURCE_VOLTS: lambda plant, owner: plant.source(owner).volts,
    Quantity.SOURCE_AMPS: lambda plant, owner: plant.source(owner).amps,
    Quantity.SOURCE_CELSIUS: lambda plant, owner: plant.source(owner).celsius,
    Quantity.REPORTED_STAGE: lambda plant, owner: plant.source(owner).reported_stage,
    Quantity.INPUT_VOLTS: _input_volts,
    Quantity.INPUT_AMPS: _input_amps,
    Quantity.AC_VOLTS: lambda plant, _: None if plant.supply is None else plant.supply.volts,
    # the coach's supply has one leg only
    Quantity.AC_OTHER_LEG_VOLTS: lambda *_: None,
    Quantity.AC_AMPS: lambda plant, _: None if plant.supply is None else plant.supply.amps,
    Quantity.AC_WATTS: lambda plant, _: None if plant.supply is None else plant.supply.watts,
    Quantity.AC_HERTZ: lambda plant, _: None if plant.supply is None else plant.supply.hertz,
    Quantity.AC_POWER_FACTOR: lambda plant, _: (
        None if plant.supply is None else plant.supply.factor
    ),
    Quantity.CELL_VOLTS: _cell(_numbered_cell),
    Quantity.CELL_CELSIUS: _cell(lambda bank, _: bank.celsius),
    Quantity.HIGHEST_CELL_VOLTS: _cell(lambda bank, _: bank.highest_cell_volts()),
    Quantity.LOWEST_CELL_VOLTS: _cell(lambda bank, _: bank.lowest_cell_volts()),
    Quantity.HIGHEST_CELL_CELSIUS: _cell(lambda bank, _: bank.celsius + 0.4),
    Quantity.LOWEST_CELL_CELSIUS: _cell(lambda bank, _: bank.celsius - 0.3),
}
