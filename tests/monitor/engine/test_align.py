"""Devices polled at different moments, seen as one bank."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.reading import QUANTITIES, Channel, Quantity, Reading
from monitor.engine.align import Alignment, plausible
from monitor.engine.state import dump, restore
from tests.monitor.engine.sites import (
    AMPS,
    CELSIUS,
    SHORE_AMPS,
    SHORE_STAGE,
    SHORE_VOLTS,
    VOLTS,
    bank,
    reading,
    site,
)

TWO_DEVICES = (("shunt", 1.0), ("meter", 1.0))


def of_meter(seconds: float, **figures: float) -> Reading:
    channels = {"volts": VOLTS, "amps": AMPS}
    return Reading(
        seconds, "meter", tuple((channels[name], figure) for name, figure in figures.items())
    )


def test_one_device_steps_its_bank_at_every_reading() -> None:
    alignment = Alignment(site())
    assert alignment.take(reading(0.0, 12.5, -3.0, 21.0)) == [0]
    inputs = alignment.banks[0].inputs
    assert (inputs.seconds, inputs.volts, inputs.amps, inputs.celsius) == (0.0, 12.5, -3.0, 21.0)
    assert alignment.take(reading(1.0, 12.4, -4.0, 21.0)) == [0]
    assert inputs.volts == 12.4


def test_volts_and_amps_of_two_devices_step_on_the_one_that_completes_the_pair() -> None:
    alignment = Alignment(site(links=TWO_DEVICES))
    alignment.take(reading(0.0, 12.5, None, None))
    assert alignment.take(of_meter(0.4, amps=5.0)) == [0]
    assert alignment.take(reading(1.0, 12.6, None, None)) == []
    assert alignment.take(of_meter(1.4, amps=6.0)) == [0]
    inputs = alignment.banks[0].inputs
    assert inputs.seconds == 1.4
    assert (inputs.volts, inputs.volts_age) == (12.6, pytest.approx(0.4))
    assert (inputs.amps, inputs.amps_age) == (6.0, 0.0)


def test_one_half_alone_steps_when_the_other_is_stale() -> None:
    alignment = Alignment(site(links=TWO_DEVICES))
    alignment.take(reading(0.0, 12.5, None, None))
    alignment.take(of_meter(0.5, amps=5.0))
    assert alignment.take(reading(2.0, 12.6, None, None)) == []
    assert alignment.take(reading(4.0, 12.7, None, None)) == [0]
    assert alignment.banks[0].inputs.amps is None


def test_the_device_configured_first_is_believed_while_it_is_fresh() -> None:
    alignment = Alignment(site(links=TWO_DEVICES))
    alignment.take(of_meter(0.0, volts=12.0, amps=1.0))
    assert alignment.banks[0].inputs.volts == 12.0
    alignment.take(reading(0.5, 12.5, 2.0))
    assert alignment.banks[0].inputs.volts == 12.5
    assert alignment.take(of_meter(1.0, volts=12.1, amps=1.1)) == []
    assert alignment.banks[0].inputs.volts == 12.5
    # The shunt says nothing more: after three of its periods the meter is believed instead.
    assert alignment.take(of_meter(3.4, volts=12.2, amps=1.2)) == []
    assert alignment.take(of_meter(4.0, volts=12.3, amps=1.3)) == [0]
    assert alignment.banks[0].inputs.volts == 12.3
    # ... and the shunt again as soon as it speaks.
    assert alignment.take(reading(4.2, 12.6, 2.6)) == [0]
    assert alignment.banks[0].inputs.volts == 12.6


def test_a_device_that_is_down_is_not_believed_however_fresh() -> None:
    alignment = Alignment(site(links=TWO_DEVICES))
    alignment.take(reading(0.0, 12.5, 2.0))
    alignment.devices["shunt"].up = False
    assert alignment.take(of_meter(0.5, volts=12.1, amps=1.1)) == [0]
    assert alignment.banks[0].inputs.volts == 12.1


def test_a_source_alone_updates_the_view_without_stepping_the_bank() -> None:
    alignment = Alignment(site(sources=("shore",), links=(("shunt", 1.0), ("charger", 5.0))))
    alignment.take(reading(0.0))
    values: tuple[tuple[Channel, float | str], ...] = (
        (SHORE_AMPS, 20.0),
        (SHORE_STAGE, "bulk"),
    )
    assert alignment.take(Reading(0.5, "charger", values)) == []
    assert alignment.take(reading(1.0)) == [0]
    inputs = alignment.banks[0].inputs
    assert inputs.source_amps == [20.0]
    assert inputs.source_volts == [None]
    assert inputs.reported_stages == ["bulk"]


def test_a_source_with_its_own_volts_and_amps_steps_by_itself() -> None:
    alignment = Alignment(site(sources=("shore",), links=(("shunt", 1.0), ("charger", 5.0))))
    values = ((SHORE_VOLTS, 13.9), (SHORE_AMPS, 20.0))
    assert alignment.take(Reading(0.5, "charger", values)) == [1]
    assert alignment.sources[0].inputs.volts == 13.9
    assert alignment.take(Reading(5.5, "charger", values[:1])) == []


def test_late_and_duplicate_readings_change_nothing() -> None:
    alignment = Alignment(site())
    alignment.take(reading(10.0, 12.5, 1.0))
    alignment.take(reading(11.0, 12.6, 2.0))
    before = json.dumps(dump(alignment))
    assert alignment.take(reading(11.0, 13.0, 9.0)) == []
    assert alignment.take(reading(10.5, 13.0, 9.0)) == []
    assert json.dumps(dump(alignment)) == before


KEPT = [
    channel
    for channel in (
        *(Channel("house", quantity) for quantity in Quantity),
        *(Channel("shore", quantity) for quantity in Quantity),
    )
    if channel != SHORE_STAGE
    and Alignment(site(sources=("shore",))).slot(channel.owner, channel.quantity) is not None
]


@pytest.mark.parametrize("channel", KEPT, ids=lambda channel: str(channel.quantity))
def test_what_no_sensor_could_say_never_enters(channel: Channel) -> None:
    alignment = Alignment(site(sources=("shore",)))
    quantity = channel.quantity
    slot = alignment.slot(channel.owner, quantity)
    assert slot is not None
    low, high = QUANTITIES[quantity].low, QUANTITIES[quantity].high
    if channel.owner == "house":
        low, high = plausible(bank()).get(quantity, (low, high))
    absurd = (math.nan, math.inf, -math.inf, low - 0.001, high + 0.001, "high", int(high) + 1)
    for second, figure in enumerate(absurd):
        alignment.take(Reading(float(second), "shunt", ((channel, figure),)))
        assert slot.best(float(second)) is None
    assert alignment.devices["shunt"].refused == len(absurd)
    for second, figure in enumerate((low, high)):
        values = ((channel, figure),)
        alignment.take(Reading(100.0 + second, "shunt", values))
        assert slot.number(100.0 + second) == figure


def test_a_reported_stage_must_be_one_of_the_words() -> None:
    alignment = Alignment(site(sources=("shore",)))
    for second, word in enumerate(("Bulk", "5", 5.0, 0.0, 0)):
        alignment.take(Reading(float(second), "shunt", ((SHORE_STAGE, word),)))
    assert alignment.sources[0].reported_stage.best(4.0) is None
    alignment.take(Reading(9.0, "shunt", ((SHORE_STAGE, "float"),)))
    best = alignment.sources[0].reported_stage.best(9.0)
    assert best is not None
    assert best.figure == "float"


def test_figures_for_screens_carry_their_age_or_the_reason_why_not() -> None:
    alignment = Alignment(site())
    slot = alignment.banks[0].volts
    assert slot.measured(0.0) == (None, None, "no device gives it")
    alignment.take(reading(10.0, 12.5))
    assert slot.measured(12.0) == (12.5, 2.0, "")
    assert slot.measured(13.1) == (None, pytest.approx(3.1), "last 3 s ago")
    alignment.devices["shunt"].up = False
    assert slot.measured(50.0) == (None, 40.0, "shunt is silent, last 40 s ago")
    assert slot.measured(7210.0) == (None, 7200.0, "shunt is silent, last 2 h ago")


def test_the_rooms_may_use_a_temperature_longer_than_a_screen_shows_it() -> None:
    alignment = Alignment(site())
    alignment.take(reading(0.0, celsius=18.0))
    alignment.take(reading(300.0, celsius=None))
    assert alignment.banks[0].inputs.celsius == 18.0
    assert alignment.banks[0].inputs.celsius_age == 300.0
    assert alignment.banks[0].celsius.measured(300.0).figure is None
    alignment.take(reading(601.0, celsius=None))
    assert alignment.banks[0].inputs.celsius is None


def test_a_slow_device_is_not_stale_between_two_of_its_readings() -> None:
    """The config says a second, it speaks every ten: its own pace is learned."""
    alignment = Alignment(site())
    for step in range(60):
        alignment.take(reading(10.0 * step))
    assert alignment.banks[0].volts.measured(599.0).figure == 12.6
    assert not alignment.devices["shunt"].silent(590.0 + 25.0)
    assert alignment.devices["shunt"].silent(590.0 + 40.0)


def test_loads_are_sources_less_bank_when_their_figures_are_of_the_same_age() -> None:
    alignment = Alignment(site(sources=("shore",), links=(("shunt", 1.0), ("charger", 1.0))))
    view = alignment.banks[0]
    assert view.loads(0.0).reason == "needs bank current: no device gives it"
    alignment.take(reading(10.0, 13.0, 12.0))
    assert view.loads(10.0).reason == "needs shore: no device gives it"
    alignment.take(Reading(10.5, "charger", ((SHORE_AMPS, 20.0),)))
    assert view.loads(10.5) == (8.0, 0.5, "sources less bank")
    alignment.take(reading(13.0, 13.0, 12.0))
    assert view.loads(13.0).figure is None
    assert view.loads(13.0).reason == "figures are 2 s apart"


def test_loads_need_a_source_and_a_device_that_measures_them_comes_first() -> None:
    alignment = Alignment(site())
    alignment.take(reading(0.0))
    assert "no source is configured" in alignment.banks[0].loads(0.0).reason
    values = ((Channel("house", Quantity.LOAD_AMPS), 7.5),)
    alignment.take(Reading(1.0, "shunt", values))
    assert alignment.banks[0].loads(1.0) == (7.5, 0.0, "")


def test_a_channel_of_nothing_configured_is_named_once() -> None:
    alignment = Alignment(site())
    for second in range(3):
        values = ((Channel("starter", Quantity.BANK_VOLTS), 12.6),)
        alignment.take(Reading(float(second), "shunt", values))
    assert alignment.unbound == ["shunt gives bank_volts for starter: not configured"]


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["shunt", "meter", "probe"]),
            st.floats(0.0, 60.0, allow_nan=False),
            st.sampled_from([VOLTS, AMPS, CELSIUS, SHORE_AMPS]),
            st.one_of(st.floats(), st.floats(10.0, 15.0)),
        ),
        max_size=30,
    ),
    st.integers(0, 30),
)
def test_cut_anywhere(polls: list[tuple[str, float, Channel, float]], cut: int) -> None:
    """An alignment restored from its JSON gives the same inputs at the same readings."""
    here = site(sources=("shore",), links=TWO_DEVICES)
    whole, twin = Alignment(here), Alignment(here)
    for number, (device, seconds, channel, figure) in enumerate(polls):
        if number == cut:
            restore(twin, json.loads(json.dumps(dump(whole), allow_nan=False)))
        poll = Reading(seconds, device, ((channel, figure),))
        due = whole.take(poll)
        if number >= cut:
            assert twin.take(poll) == due
            assert dump(twin) == dump(whole)


def test_cells_and_the_ac_side_have_their_places() -> None:
    """Cells appear as devices give them, by number; numbers that no bank has are not believed."""
    alignment = Alignment(site(sources=("shore",)))
    values = (
        (Channel("house#3", Quantity.CELL_VOLTS), 3.31),
        (Channel("house#3", Quantity.CELL_CELSIUS), 18.0),
        (Channel("house#0", Quantity.CELL_VOLTS), 3.32),
        (Channel("house#x", Quantity.CELL_VOLTS), 3.33),
        (Channel("yacht#1", Quantity.CELL_VOLTS), 3.34),
        (Channel("house#3", Quantity.BANK_VOLTS), 13.2),
        (Channel("shore", Quantity.AC_VOLTS), 118.0),
    )
    assert alignment.take(Reading(1.0, "guard", values)) == []
    cells = alignment.banks[0].cells
    assert cells[Quantity.CELL_VOLTS][3].number(1.0) == 3.31
    assert cells[Quantity.CELL_CELSIUS][3].number(1.0) == 18.0
    assert list(cells[Quantity.CELL_VOLTS]) == [3]
    assert len(alignment.unbound) == 4
    assert alignment.sources[0].supply[Quantity.AC_VOLTS].number(1.0) == 118.0
    again = Alignment(site(sources=("shore",)))
    again.memory = alignment.memory
    assert again.banks[0].cells[Quantity.CELL_VOLTS][3].number(1.0) == 3.31
    assert again.memory == alignment.memory
