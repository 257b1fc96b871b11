"""A temperature that leaps is not believed, moves nothing, and comes back by itself when mended."""

from __future__ import annotations

import itertools

import pytest

from adapters.reading import Tick
from monitor.engine.celsius_trust import FASTEST, MOST_ROOM, CelsiusTrust
from monitor.engine.engine import Engine
from tests.monitor.engine.sites import reading, site
from tests.monitor.engine.test_conditions import held, judged
from tests.monitor.engine.watched import watched


def followed(*figures: tuple[float, float]) -> CelsiusTrust:
    """From each hour on these degrees, told every minute, up to the last."""
    trust = CelsiusTrust()
    for (hours, celsius), (until, _) in itertools.pairwise((*figures, (figures[-1][0], 0.0))):
        for minute in range(round(60.0 * hours), max(round(60.0 * until), round(60 * hours) + 1)):
            trust.look(60.0 * minute, celsius)
    return trust


def test_a_bank_warms_as_it_may() -> None:
    """20 °C in an hour, as thermal runaway begins, is no wrong sensor."""
    trust = CelsiusTrust()
    for minute in range(120):
        assert trust.look(60.0 * minute, 30.0 + minute / 3.0)
        assert abs(trust.leap) < 0.5
    assert trust.could_be == pytest.approx(30.0 + 119 / 3.0)


def test_a_leap_is_not_believed_however_long_it_lasts_where_it_is_extreme() -> None:
    trust = followed((0.0, 20.0), (1 / 60, 55.0))
    assert not trust.trusted
    assert trust.leap == pytest.approx(35.0)
    for hour in range(1, 24 * 7):
        assert not trust.look(3600.0 * hour, 55.0)
    assert trust.could_be == 20.0
    assert trust.room(3600.0 * 100) == MOST_ROOM


def test_back_where_it_was_all_is_well() -> None:
    trust = followed((0.0, 20.0), (1 / 60, 55.0), (2 / 60, 20.5))
    assert trust.trusted
    assert trust.leap == 0.0
    # mended a day later, the bank is somewhere else by then
    assert followed((0.0, 20.0), (0.1, 60.0), (10.0, 60.0), (10.1, 30.0)).trusted


def test_an_ordinary_figure_is_believed_after_a_day() -> None:
    """The sensor was moved from the cold wall to the battery."""
    trust = followed((0.0, 2.0), (0.1, 24.0), (12.0, 24.0))
    assert not trust.trusted
    assert followed((0.0, 2.0), (0.1, 24.0), (24.2, 24.0)).trusted


def test_hours_in_which_nobody_looked_are_hours_in_which_it_could_move() -> None:
    for hours, trusted in ((2.0, True), (0.5, False)):
        trust = followed((0.0, 20.0))
        assert trust.look(3600.0 * hours, 20.0 + 2.0 * FASTEST) is trusted


def test_a_distrusted_temperature_moves_no_limit() -> None:
    """AGM at 20 °C: a sensor that says 60 lowers no limit, and cries nothing of heat."""
    engine = Engine(site(links=(("shunt", 10.0),)))
    engine.step(Tick(0.0, 1.7e9))
    for second in range(0, 3 * 3600, 10):
        celsius = 20.0 if second < 1800 else 60.0
        engine.step(reading(float(second), 14.4, 10.0, celsius))
    watch = engine.banks[0].watch
    assert watch.celsius is None
    assert watch.read_celsius == 60.0
    assert watch.could_be == 20.0
    assert engine.banks[0].signal.celsius == 20.0
    assert {alarm.name for alarm in engine.snapshot().alarms} == {"temperature-leapt"}


def test_without_a_temperature_limits_are_as_wide_as_it_may_be() -> None:
    """Float set to 13.6 V at 25 °C, -24 mV a degree: last seen at 10 °C it may hold 13.96 V, and
    where the bank may be 8 °C colder or warmer 13.77 to 14.15 V."""
    lost = {"celsius": None, "celsius_missing": 600.0, "could_be": 10.0, "room": 8.0}
    assert not judged("hold-above-set-point", held(14.2, "float", **lost)).present
    assert judged("hold-above-set-point", held(14.45, "float", **lost)).present
    known = held(14.2, "float", celsius=10.0)
    assert judged("hold-above-set-point", known).present
    never = held(13.9, "float", celsius=None)
    assert judged("hold-above-set-point", never).present
    cold = watched(celsius=None, could_be=15.0, room=10.0)
    assert cold.highest > watched(celsius=15.0).highest
