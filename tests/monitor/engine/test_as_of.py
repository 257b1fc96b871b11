"""While a bank is not read nothing of it is told as now, counted down, or planned from."""

from __future__ import annotations

from dataclasses import replace

from adapters.reading import LinkState, Quantity, Reading, Tick
from monitor.engine.as_of import missing, why_not_now
from monitor.engine.engine import Engine
from monitor.engine.explain import chain
from monitor.engine.outlook import outlook_of
from monitor.engine.plan import dawn, sun
from monitor.engine.plan_generator import generator
from monitor.engine.plan_load import load
from monitor.engine.snapshot import Measured
from tests.monitor.engine.captures import capture
from tests.monitor.engine.outlooks import known, roof

HOUR = 3600.0
READ = Measured(12.6, 1.0)
GONE = Measured(None, 7200.0, "shunt is silent, last 2 h ago")
NEVER = Measured(None, None, "no device gives it")


def test_either_figure_missing_stands_everything_still() -> None:
    assert missing(READ, READ) is None
    assert missing(GONE, READ) is missing(READ, GONE) is GONE
    assert missing(GONE, NEVER) is missing(NEVER, GONE) is NEVER
    assert why_not_now(READ, READ) == ""
    assert why_not_now(READ, GONE) == "charge not known now, shunt is silent, last 2 h ago"


def silenced(hours: float) -> Engine:
    """An engine on a charge whose only device fell silent so long ago."""
    _, where, readings = capture("c01")
    engine = Engine(where)
    for each in readings[:1100]:
        engine.step(each)
    now = engine.seconds or 0.0
    engine.step(LinkState(now + 4.0, readings[0].device, False, "no answer"))
    engine.step(Tick(now + hours * HOUR, None))
    return engine


def test_a_silent_shunt_leaves_nothing_to_plan_from() -> None:
    view = outlook_of(silenced(2.0), "house")
    assert view is not None
    reason = "charge not known now, shunt is silent, last 2 h ago"
    assert load(view, 1200.0, 1800.0).possible is None
    assert load(view, 1200.0, 1800.0).reason == reason
    asked = generator(view, 0.9, 40.0)
    assert (asked.seconds, asked.reason) == (None, reason)
    assert (dawn(view).soc, dawn(view).reason) == (None, reason)
    sunny = replace(known(sources=(roof(),)), unread=reason)
    assert (sun(sunny).fills, sun(sunny).reason) == (None, reason)


def test_one_of_the_two_figures_is_not_enough() -> None:
    _, where, readings = capture("c01")
    engine = Engine(where)
    for each in readings[:1100]:
        engine.step(each)
    now = engine.seconds or 0.0
    volts = [value for value in readings[1099].values if value[0].quantity is Quantity.BANK_VOLTS]
    for second in range(0, 600, 4):
        engine.step(Reading(now + 4.0 + second, readings[0].device, tuple(volts)))
    view = outlook_of(engine, "house")
    assert view is not None
    assert load(view, 100.0, 60.0).reason == "charge not known now, last 10 min ago"
    (bank,) = engine.snapshot().banks
    assert bank.volts.figure is not None
    assert bank.forecast.to_full.seconds is None


def test_nothing_is_counted_down_in_silence() -> None:
    engine = silenced(2.0)
    (bank,) = engine.snapshot().banks
    for interval in (bank.forecast.to_full, bank.forecast.left):
        assert interval.seconds is None
        assert interval.reason == "charge not known now, shunt is silent, last 2 h ago"
    parts = {part.name: part for part in chain(engine, "house")}
    for name in ("signal", "stage", "charge"):
        assert parts[name].words.endswith("last 2 h ago"), name
    assert [item.figure for item in parts["forecast"].items] == [None, None]


def test_the_doubt_is_wider_once_the_device_speaks_again() -> None:
    _, where, readings = capture("c01")
    engine = Engine(where)
    for each in readings[:1100]:
        engine.step(each)
    before = engine.glance("house").soc_sd
    later = replace(readings[1100], seconds=readings[1099].seconds + 2 * HOUR)
    engine.step(later)
    after = engine.glance("house").soc_sd
    assert before is not None
    assert after is not None
    assert after > 1.5 * before
