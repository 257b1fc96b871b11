"""Loads and sun by hour of the day: hand-computed days, clocks that come late, cut anywhere."""

from __future__ import annotations

import json
import math
from collections.abc import Callable

import pytest

from adapters.reading import Channel, Quantity, Reading, Tick
from monitor.bank import Bank, Link, Site, Source, SourceKind
from monitor.chemistries import CHEMISTRIES
from monitor.engine.by_hour import FIRST_DAYS, LOAD_SHARE, LOAD_TOGETHER, ByHour, Total
from monitor.engine.engine import Engine
from monitor.engine.state import dump, restore
from tests.monitor.engine.sites import reading

HOUR = 3600.0
DAY = 86400.0
#: 2023-11-15 00:00 UTC.
MIDNIGHT = 1_700_006_400.0
Watts = Callable[[float], float | None]


def days(
    room: ByHour,
    start: float,
    end: float,
    load: Watts,
    sun: Watts = lambda _: None,
    held: Callable[[float], bool] = lambda _: False,
    offset: float | None = 0.0,
) -> None:
    """A look at every minute from `start` to `end`, seconds."""
    second = start
    while second < end:
        room.look(second, offset, load(second), sun(second), held(second))
        second += 60.0


def by_hour_of(second: float) -> float:
    return 10.0 * (second % DAY // HOUR)


def test_two_days_make_a_mean_and_a_spread() -> None:
    """40 W the first day, 60 W the second: 50 W; 10 W each way about it, as one day's news of two
    days has it: variance 100 among themselves, 200 unbiased."""
    room = ByHour()
    days(room, 0.0, DAY, lambda _: 40.0)
    days(room, DAY, 2 * DAY + 61.0, lambda _: 60.0)
    hourly = room.loads()
    assert hourly is not None
    assert hourly.days == 2.0
    assert hourly.watts == (50.0,) * 24
    first = (LOAD_SHARE * 50.0) ** 2
    spread = (FIRST_DAYS * first + 200.0) / (FIRST_DAYS + 1.0)
    assert hourly.sd == pytest.approx((math.sqrt(spread * 1.5),) * 24)


def test_a_total_counts_parts_of_hours() -> None:
    """Hour n draws 10 n W: from 01:30 to 03:15 that is half of 10, 20 and a quarter of 30."""
    room = ByHour()
    days(room, 0.0, DAY + 61.0, by_hour_of)
    hourly = room.loads()
    assert hourly is not None
    assert hourly.watts == tuple(10.0 * n for n in range(24))
    total = hourly.total(1.5 * HOUR, 3.25 * HOUR, Total(0.0, 0.0))
    assert total.figure == pytest.approx(0.5 * 10.0 + 20.0 + 0.25 * 30.0)
    parts = [0.5 * hourly.sd[1], hourly.sd[2], 0.25 * hourly.sd[3]]
    alone = sum(part * part for part in parts)
    expected = (1.0 - LOAD_TOGETHER) * alone + LOAD_TOGETHER * sum(parts) ** 2
    assert total.sd == pytest.approx(math.sqrt(expected))
    across = hourly.total(23 * HOUR, DAY + HOUR, Total(0.0, 0.0))
    assert across.figure == pytest.approx(230.0 + 0.0)


def test_an_hour_seen_for_less_than_half_does_not_count() -> None:
    room = ByHour()
    days(room, 40 * 60.0, 2 * HOUR + 61.0, lambda _: 40.0)
    hourly = room.loads()
    assert hourly is not None
    assert hourly.watts[:3] == (None, 40.0, None)
    unseen = hourly.total(0.0, HOUR, Total(7.0, 3.0))
    assert (unseen.figure, unseen.sd) == (7.0, 3.0)


@pytest.mark.parametrize("offset", [5 * HOUR, 1.7e9 + 5 * HOUR, -7 * HOUR, 1.7e9])
def test_a_clock_that_comes_late_turns_what_was_learned(offset: float) -> None:
    """What was drawn at a moment of the engine's time is still drawn a whole day later."""
    room, twin = ByHour(), ByHour()
    days(room, 0.0, DAY + 61.0, by_hour_of, offset=None)
    days(twin, 0.0, DAY + 61.0, by_hour_of, offset=None)
    assert not room.dated
    room.look(DAY + 120.0, offset, 0.0, None, False)
    assert room.dated
    mine, theirs = room.loads(), twin.loads()
    assert mine is not None
    assert theirs is not None
    for hour in range(24):
        # whole hours only where the offset is one: 1.7e9 s is some minutes off
        moment = DAY + (hour + 0.5) * HOUR + (round(offset / HOUR) * HOUR - offset)
        assert mine.at(moment) == theirs.at(DAY + (hour + 0.5) * HOUR)


def test_a_clock_that_slews_turns_nothing() -> None:
    room = ByHour()
    days(room, 0.0, DAY + 61.0, by_hour_of, offset=1000 * DAY)
    before = dump(room)["load"]
    room.look(DAY + 120.0, 1000 * DAY + 60.0, 0.0, None, False)
    room.look(DAY + 180.0, 2000 * DAY + 60.0, 0.0, None, False)
    assert dump(room)["load"] == before


def test_sun_that_was_held_back_is_only_a_least() -> None:
    """Held from noon on: the forenoon is learned, the afternoon gives a lower bound."""
    room = ByHour()
    days(
        room,
        0.0,
        DAY + 61.0,
        lambda _: 30.0,
        lambda second: 200.0 if 6 * HOUR <= second % DAY < 18 * HOUR else 0.0,
        lambda second: second % DAY >= 12 * HOUR,
    )
    suns = room.suns()
    assert suns is not None
    assert suns.watts[6:12] == (200.0,) * 6
    assert suns.watts[12:24] == (None,) * 12
    assert room.least[12:18] == [200.0] * 6
    # a held hour that gave more than was ever seen is news all the same
    days(room, DAY + 120.0, 2 * DAY + 61.0, lambda _: 30.0, lambda _: 300.0, lambda _: True)
    suns = room.suns()
    assert suns is not None
    assert suns.watts[8] == pytest.approx(250.0)
    assert suns.days == 2.0


def test_days_of_sun_are_those_in_which_it_shone() -> None:
    room = ByHour()
    days(room, 0.0, 3 * DAY, lambda _: 30.0, lambda _: 0.0)
    suns = room.suns()
    assert suns is not None
    assert suns.days == 0.0


def test_cut_anywhere_goes_on_alike() -> None:
    whole = ByHour()
    cuts: list[tuple[float, str]] = []
    second = 0.0
    while second < 1.5 * DAY:
        if second % 4980.0 == 0.0:
            cuts.append((second, json.dumps(dump(whole), allow_nan=False)))
        whole.look(second, 7200.0 if second > DAY else None, by_hour_of(second), 5.0, False)
        second += 60.0
    for start, state in cuts:
        twin = ByHour()
        restore(twin, json.loads(state))
        second = start
        while second < 1.5 * DAY:
            twin.look(second, 7200.0 if second > DAY else None, by_hour_of(second), 5.0, False)
            second += 60.0
        assert dump(twin) == dump(whole)
    damaged = dump(whole)
    damaged["least"] = [0.0] * 23
    with pytest.raises(ValueError, match="least"):
        restore(ByHour(), damaged)


def test_the_engine_learns_loads_from_the_shunt_alone_and_keeps_them() -> None:
    """3 A out at 12.5 V for three hours: 37.5 W in the whole hours of it."""
    house = Bank("house", CHEMISTRIES["agm"], 12, 200.0)
    site = Site((house,), (), (Link("shunt", 10.0),))
    engine = Engine(site)
    engine.step(Tick(0.0, MIDNIGHT))
    for step in range(1, 1100):
        engine.step(reading(10.0 * step, 12.5, -3.0))
    twin = Engine(site, json.loads(json.dumps(engine.state())))
    for each in (engine, twin):
        hours = {row.name: row for row in each.snapshot().banks[0].learned}
        row = hours["load-by-hour/01"]
        assert row.figure == pytest.approx(37.5, rel=0.05)
        assert row.unit == "W"
        assert row.seconds is not None
        assert "sun-by-hour/01" not in hours


def test_a_panel_that_nothing_measures_is_told_from_the_loads_by_the_dark() -> None:
    """By day the shunt alone cannot tell loads from sun; by night all that flows out is load."""
    house = Bank("house", CHEMISTRIES["agm"], 12, 200.0)
    site = Site(
        (house,),
        (Source("roof", "house", SourceKind.SOLAR),),
        (Link("shunt", 10.0),),
        0.0,
        0.0,
    )
    engine = Engine(site)
    engine.step(Tick(0.0, MIDNIGHT))
    for step in range(1, 4400):
        seconds = 10.0 * step
        day = 6.0 * HOUR < seconds < 18.0 * HOUR
        engine.step(reading(seconds, 12.5, -1.0 if day else -3.0))
    hours = {row.name for row in engine.snapshot().banks[0].learned}
    assert {"load-by-hour/01", "load-by-hour/04"} <= hours
    assert not {"load-by-hour/08", "load-by-hour/10"} & hours


def test_loads_are_sources_less_bank_while_something_charges() -> None:
    house = Bank("house", CHEMISTRIES["agm"], 12, 200.0)
    site = Site(
        (house,),
        (Source("roof", "house", SourceKind.SOLAR),),
        (Link("shunt", 10.0), Link("regulator", 10.0)),
    )
    engine = Engine(site)
    engine.step(Tick(0.0, MIDNIGHT))
    source = Channel("roof", Quantity.SOURCE_AMPS)
    for step in range(1, 800):
        engine.step(reading(10.0 * step, 12.5 + 5e-4 * step, 6.0))
        engine.step(Reading(10.0 * step + 1.0, "regulator", ((source, 10.0),)))
    hours = {row.name: row for row in engine.snapshot().banks[0].learned}
    assert hours["load-by-hour/01"].figure == pytest.approx(4.0 * 12.77, rel=0.05)
    assert hours["sun-by-hour/01"].figure == pytest.approx(10.0 * 12.77, rel=0.02)
