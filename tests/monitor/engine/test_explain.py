"""The chain behind one moment: every room is there, and agrees with the snapshot."""

from __future__ import annotations

import json

import pytest

from monitor.engine.engine import Engine
from monitor.engine.explain import chain
from monitor.engine.parts import CHANCE, Item, Part
from monitor.engine.snapshot import Stage
from tests.monitor.engine.captures import capture
from tests.monitor.engine.sites import reading, site

ROOMS = [
    "said",
    "signal",
    "stage",
    "set-points",
    "charge",
    "forecast",
    "by hour",
    "conditions",
]


@pytest.fixture(scope="module")
def engine() -> Engine:
    """A charge under way, an hour and a half in."""
    _, where, readings = capture("c01")
    engine = Engine(where)
    for each in readings[:1100]:
        engine.step(each)
    return engine


def item(parts: tuple[Part, ...], room: str, name: str) -> Item:
    (part,) = (part for part in parts if part.name == room)
    (found,) = (each for each in part.items if each.name == name)
    return found


def test_every_room_is_there_in_the_order_of_the_data(engine: Engine) -> None:
    parts = chain(engine, "house")
    assert [part.name for part in parts] == ROOMS
    assert all(part.items or part.hours for part in parts)
    assert all(part.words for part in parts)


def test_it_agrees_with_the_snapshot(engine: Engine) -> None:
    parts = chain(engine, "house")
    (view,) = engine.snapshot().banks
    soc = item(parts, "charge", "fraction of charge")
    assert (soc.figure, soc.sd) == (view.charge.soc.figure, view.charge.soc.sd)
    capacity = item(parts, "charge", "usable capacity")
    assert capacity.figure == view.charge.capacity_amp_hours.figure
    assert capacity.sd == pytest.approx(view.charge.capacity_amp_hours.sd)
    offset = item(parts, "charge", "offset of the current sensor")
    assert (offset.figure, offset.sd) == view.charge.sensor_offset_amps[:2]
    chances = [item(parts, "stage", stage.value) for stage in Stage]
    assert tuple(each.figure for each in chances) == view.stage.probabilities
    assert {each.unit for each in chances} == {CHANCE}
    full = item(parts, "forecast", "to full")
    seconds = view.forecast.to_full.seconds
    assert full.figure == seconds
    absorption = item(parts, "set-points", "absorption")
    added = item(parts, "set-points", "compensation adds now")
    assert isinstance(absorption.figure, float)
    assert isinstance(added.figure, float)
    assert absorption.figure + added.figure == pytest.approx(
        view.set_points.absorption.figure, abs=0.02
    )


def test_devices_are_told_with_the_age_of_each_figure(engine: Engine) -> None:
    (view,) = engine.snapshot().banks
    volts = item(chain(engine, "house"), "said", "shunt: house bank voltage")
    assert (volts.figure, volts.age_seconds, volts.unit) == (*view.volts[:2], "V")


def test_the_signal_is_that_of_the_readings(engine: Engine) -> None:
    parts = chain(engine, "house")
    signal = engine.banks[0].signal
    slope = item(parts, "signal", "slope of current over ten minutes")
    assert slope.figure == signal.long.slope_amps * 3600.0
    assert slope.unit == "A/h"
    assert slope.sd is not None
    assert item(parts, "signal", "volts over 8 s").figure == signal.fast_volts


def test_volts_against_amps_are_the_slope_that_was_put_in() -> None:
    """A bank at 5 mohm whose current ramps 3 A a minute: 5 mohm come out."""
    engine = Engine(site())
    for second in range(0, 900, 5):
        amps = -20.0 + 0.05 * second
        engine.step(reading(float(second), 12.5 + 0.005 * amps, amps))
    ratio = item(chain(engine, "house"), "signal", "dV/dI over ten minutes")
    assert ratio.figure == pytest.approx(5.0, rel=0.02)
    still = Engine(site())
    for second in range(0, 900, 5):
        still.step(reading(float(second), 12.5, -5.0))
    none = item(chain(still, "house"), "signal", "dV/dI over ten minutes")
    assert none.figure is None
    assert "did not move" in none.words


def test_asking_changes_nothing(engine: Engine) -> None:
    before = json.dumps(engine.state())
    assert chain(engine, "house") == chain(engine, "house")
    assert json.dumps(engine.state()) == before


def test_before_the_first_reading_only_the_devices_are_told() -> None:
    parts = chain(Engine(site()), "house")
    assert [part.name for part in parts] == ["said"]
    with pytest.raises(KeyError):
        chain(Engine(site()), "starter")


def test_a_standing_condition_is_told_with_its_limit() -> None:
    engine = Engine(site())
    for second in range(0, 3000, 5):
        engine.step(reading(float(second), 17.5, 5.0))
    standing = [view.name for view in engine.snapshot().alarms if view.target == "house"]
    assert "over-voltage" in standing
    told = item(chain(engine, "house"), "conditions", "house:over-voltage")
    assert isinstance(told.figure, float)
    assert "limit" in told.words
    assert "unacknowledged alarm" in told.words or "unacknowledged" in told.words
