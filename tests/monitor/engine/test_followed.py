"""Followers of hours and days: kept whole across a restart, and right on worked figures."""

from __future__ import annotations

import json

import pytest

from monitor.engine.followed import Followed
from monitor.engine.state import dump, restore
from tests.monitor.engine.cases_charging import floats, stops
from tests.monitor.engine.cases_installation import habits, tapering
from tests.monitor.engine.minutes import RESTING, Story, source


def days() -> list[dict[str, object]]:
    """Two days of a little of everything, minute by minute."""
    minutes: list[dict[str, object]] = []

    def add(count: int, **changes: object) -> None:
        minutes.extend(changes for _ in range(count))

    for day in range(2):
        full = 100.0 + day
        bulk = (source(38.0, "left"), source(3.0, "right", reported="bulk"))
        add(90, stage="bulk", volts=13.4, amps=35.0, sources=bulk, load_watts=20.0)
        for step in range(60):
            given = (source(25.0 - 0.3 * step, "left"), source(0.0, "right", reported="off"))
            add(1, stage="absorption", volts=14.4, amps=23.0 - 0.3 * step, sources=given)
        add(480, stage="float", volts=13.6, amps=0.3, celsius=20.0 + day, last_full=full)
        add(810, stage="discharge", volts=12.4, amps=-5.0, load_watts=60.0, last_full=full)
    return minutes


@pytest.mark.parametrize("cut", [1, 95, 137, 400, 900, 1500, 2000])
def test_cut_anywhere_and_gone_on_nothing_differs(cut: int) -> None:
    bank = Story().watch.bank
    whole, first, second = Followed(bank), Followed(bank), Followed(bank)
    for place, changes in enumerate(days()):
        minute = RESTING._replace(seconds=60.0 * place, **changes)
        whole.look(minute, minute.volts / 6.0)
        if place == cut:
            restore(second, json.loads(json.dumps(dump(first))))
        (first if place < cut else second).look(minute, minute.volts / 6.0)
    assert dump(second) == dump(whole)


def test_the_slope_of_compensation_is_found() -> None:
    for mv in (-5.0, -3.0, 0.0, 4.0):
        known = floats(mv).followed.slope.known
        assert known is not None
        slope, sd = known
        assert abs(1e3 * slope - mv) < max(0.2, 2e3 * sd)
        assert sd < 0.0006
    # a bank whose temperature hardly moves tells nothing
    assert floats(0.0, swing=0.4).followed.slope.known is None


def test_the_scale_of_the_shunt_is_found_beside_switching_loads() -> None:
    for scale in (0.5, 1.0, 2.0):
        known = tapering(scale).followed.scale.known
        assert known is not None
        assert known[0] == pytest.approx(1.0 / scale, abs=0.06)


def test_what_is_drawn_all_the_time_is_not_what_is_switched() -> None:
    """A pump of 60 W for five minutes in every hour leaves the lows alone."""
    draw = habits((30, 10.0)).followed.draw
    assert draw.usual == pytest.approx(10.0)
    assert draw.more(12) == pytest.approx(0.0)
    assert habits((20, 10.0)).followed.draw.more(12) is None  # no day was seen yet
    # what stays for a week is usual
    assert habits((30, 10.0), (24 * 9, 40.0)).followed.draw.more(12) == pytest.approx(0.0)


def test_stops_of_a_generator_are_forgotten_after_twelve_hours() -> None:
    watch = stops(2, 25.0)
    assert len(watch.followed.course.stops) == 2
    later = RESTING._replace(seconds=watch.followed.course.stops[-1] + 12.1 * 3600.0)
    watch.followed.look(later, 2.1)
    assert watch.followed.course.stops == []


def test_a_float_with_a_sensor_that_reads_too_little_is_no_hidden_source() -> None:
    """Ten days of float at -0.3 A: never drawn before, so nothing is said."""
    story = Story()
    story.add(60, stage="discharge", volts=12.7, amps=-2.0, soc=0.99, soc_sd=0.01)
    story.add(60, stage="absorption", volts=14.4, amps=4.0, soc=0.99)
    story.add(14400, stage="float", volts=13.6, amps=-0.3, soc=1.0)
    assert story.done.followed.unseen.charged_hours == 0.0
