"""Whose figure is it: the exception first, then the bank or the source by scope."""

from __future__ import annotations

import pytest

from adapters.adapter import DeviceSettings, SettingsError, owner_of
from adapters.reading import QUANTITIES, Quantity, Scope

SETTINGS = DeviceSettings(
    "shunt", bank="house", source="shore", bind={"source_volts": "roof", "bank_celsius": "start"}
)


@pytest.mark.parametrize("quantity", Quantity)
def test_every_quantity_has_an_owner_by_its_scope(quantity: Quantity) -> None:
    expected = {
        Scope.BANK: "house", Scope.CELL: "house", Scope.SOURCE: "shore", Scope.AC: "shore",
    }[QUANTITIES[quantity].scope]  # fmt: skip
    assert owner_of(SETTINGS, quantity) == SETTINGS.bind.get(quantity, expected)


def test_the_exception_comes_first() -> None:
    assert owner_of(SETTINGS, Quantity.SOURCE_VOLTS) == "roof"
    assert owner_of(SETTINGS, Quantity.BANK_CELSIUS) == "start"


def test_cells_are_numbered_within_their_bank() -> None:
    assert owner_of(SETTINGS, Quantity.CELL_VOLTS, 3) == "house#3"


@pytest.mark.parametrize(
    ("quantity", "key"), [(Quantity.AC_WATTS, "source"), (Quantity.CELL_VOLTS, "bank")]
)
def test_what_the_config_does_not_say_is_asked_for(quantity: Quantity, key: str) -> None:
    nobodys = DeviceSettings("shunt", where="coach.toml line 4 [devices.shunt]")
    with pytest.raises(SettingsError) as mistake:
        owner_of(nobodys, quantity)
    assert str(mistake.value) == (
        f"coach.toml line 4 [devices.shunt]: the device tells {quantity.value} but nothing says "
        f'what it belongs to: add {key} = "..." to the device, or {quantity.value} = "..." under '
        "its [bind]"
    )
