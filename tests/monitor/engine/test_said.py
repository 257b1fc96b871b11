"""Every value that devices gave, with its age; what is too old has its reason and no figure."""

from __future__ import annotations

import pytest

from adapters.reading import Channel, LinkState, Quantity, Reading, Tick
from monitor.bank import Bank, Site, Source, SourceKind
from monitor.chemistries import CHEMISTRIES
from monitor.engine.engine import Engine
from monitor.engine.said import said_of

SITE = Site(
    banks=(
        Bank("house", CHEMISTRIES["lfp"], 12, 100.0),
        Bank("winch", CHEMISTRIES["agm"], 12, 90.0),
    ),
    sources=(Source("shore", "house", SourceKind.AC_CHARGER, 40.0),),
)


def told() -> Engine:
    engine = Engine(SITE)
    for second in range(5):
        values = (
            (Channel("house", Quantity.BANK_VOLTS), 13.3),
            (Channel("house", Quantity.BANK_AMPS), -4.0),
            (Channel("house#2", Quantity.CELL_VOLTS), 3.32),
        )
        engine.step(Reading(float(second), "shunt", values))
        engine.step(
            Reading(second + 0.5, "charger", ((Channel("shore", Quantity.AC_VOLTS), 118.0),))
        )
    return engine


def test_values_come_with_owner_cell_and_age() -> None:
    said = {(each.owner, each.quantity): each for each in said_of(told(), "house")}
    assert said["house", Quantity.BANK_VOLTS].figure == 13.3
    assert said["house", Quantity.BANK_VOLTS].cell is None
    assert said["house", Quantity.CELL_VOLTS].cell == 2
    assert said["shore", Quantity.AC_VOLTS].device == "charger"
    assert said["shore", Quantity.AC_VOLTS].age_seconds == 0.0
    assert said_of(told(), "winch") == ()
    with pytest.raises(KeyError):
        said_of(told(), "other")


def test_what_is_too_old_has_a_reason_and_no_figure() -> None:
    engine = told()
    engine.step(LinkState(6.0, "shunt", up=False, reason="no answer"))
    for second in range(7, 400):
        engine.step(Tick(float(second)))
    volts = next(s for s in said_of(engine, "house") if s.quantity is Quantity.BANK_VOLTS)
    assert volts.figure is None
    assert volts.reason.startswith("shunt is silent, last ")
    assert volts.age_seconds == pytest.approx(395.0)
