"""Figures that do not add up: a source that nobody measures is told, not hidden as no load."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.reading import Channel, Quantity, Reading
from monitor.bank import Bank, Site, Source, SourceKind
from monitor.chemistries import CHEMISTRIES
from monitor.engine.engine import Engine
from monitor.engine.outlook import outlook_of
from monitor.engine.unmeasured import unmeasured_amps
from monitor.words.account import account_lines

ROOF_AMPS = Channel("roof", Quantity.SOURCE_AMPS)
VOLTS, AMPS = Channel("house", Quantity.BANK_VOLTS), Channel("house", Quantity.BANK_AMPS)


def told(roof: float, bank: float, minutes: int = 1) -> Engine:
    """A bank of 230 Ah whose roof is measured, and whatever else charges it is not."""
    site = Site(
        banks=(Bank("house", CHEMISTRIES["lfp"], 12, 230.0),),
        sources=(Source("roof", "house", SourceKind.SOLAR, 20.0),),
    )
    engine = Engine(site)
    for second in range(0, 60 * minutes, 2):
        values = ((VOLTS, 13.3), (AMPS, bank), (ROOF_AMPS, roof))
        engine.step(Reading(float(second), "shunt", values))
    return engine


def test_a_source_that_nobody_measures_is_told_with_its_amps() -> None:
    snapshot = told(7.7, 50.0).snapshot()
    loads = snapshot.banks[0].load_amps
    assert loads.figure is None
    assert loads.reason == (
        "more flows into the bank than all sources give: 42 A come from something that is "
        "not measured"
    )
    for width in (38, 56, 80):
        sheet = " ".join(" ".join(account_lines(snapshot, snapshot.banks[0], width)).split())
        assert "loads -- --" in sheet
        assert "42 A come from something that is not measured" in sheet


def test_meters_that_err_a_little_are_no_source() -> None:
    """Two per cent of what flows, and what an offset may be: no load, and no blame."""
    loads = told(20.0, 20.5).snapshot().banks[0].load_amps
    assert (loads.figure, loads.reason) == (0.0, "sources less bank")


@pytest.mark.parametrize(("bank", "learned"), [(50.0, False), (4.0, True)])
def test_no_load_is_learned_from_what_does_not_add_up(bank: float, learned: bool) -> None:
    engine = told(7.7, bank, minutes=125)
    view = outlook_of(engine, "house")
    assert view is not None
    assert (view.load is not None) is learned
    assert (view.recent_watts is not None) is learned
    names = {each.name.partition("/")[0] for each in engine.snapshot().banks[0].learned}
    assert ("load-by-hour" in names) is learned


@given(
    st.lists(st.floats(0.0, 200.0), max_size=4),
    st.floats(0.0, 100.0),
    st.floats(-0.01, 0.01),
    st.floats(50.0, 1000.0),
)
def test_a_load_and_good_meters_are_never_a_source(
    sources: list[float], load: float, error: float, label: float
) -> None:
    read = [amps * (1.0 + error) for amps in sources]
    bank = (sum(sources) - load) * (1.0 - error)
    if load == 0.0:
        assert unmeasured_amps(read, bank, label) == 0.0
    assert unmeasured_amps(read, bank, label) <= 0.02 * (sum(sources) + abs(bank))
    assert unmeasured_amps(read, bank + 0.1 * abs(bank) + 20.0 + 2 * load, label) > 0.0
