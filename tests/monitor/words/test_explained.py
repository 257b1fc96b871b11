"""The whole chain as text: every room, and figures that agree with the snapshot."""

from __future__ import annotations

from datetime import UTC, timedelta, timezone

from monitor.engine.by_hour import Hourly
from monitor.engine.engine import Engine
from monitor.engine.explain import chain
from monitor.engine.parts import CHANCE, Item, Part
from monitor.with_doubt import with_doubt
from monitor.words.explained import explained, item_words, number
from monitor.words.figures import Clock
from tests.monitor.engine.captures import capture


def test_items_in_words() -> None:
    assert item_words(Item("capacity", 231.4, "Ah", 12.0)) == "capacity: 230 Ah, give or take 20"
    assert item_words(Item("float", 0.0001, CHANCE)) == "float: under 1 %"
    assert item_words(Item("since", 11060.0, "s", words="not held")) == (
        "since: 3 h 4 min, not held"
    )
    assert item_words(Item("dV/dI", None, "mohm", words="too still")) == "dV/dI: --, too still"
    assert item_words(Item("stage", "bulk", age_seconds=75.0)) == "stage: bulk, read 1 min ago"


def test_hours_are_those_of_the_clock_on_the_wall() -> None:
    """The load of 02:00 UTC stands at 20:00 six hours west, and at 02:00 where nobody knows."""
    _, where, readings = capture("c01")
    engine = Engine(where)
    engine.step(readings[0])
    (view,) = engine.snapshot().banks
    watts = tuple(77.0 if hour == 2 else None for hour in range(24))
    part = Part("by hour", "usual", (), (("load", Hourly(watts, (1.0,) * 24, 0.0, 1.0)),))
    for clock, line, place in (
        (Clock(0.0, timezone(timedelta(hours=-6))), 1, 20),
        (Clock(0.0, UTC), 0, 2),
        (Clock(None), 0, 2),
    ):
        *_, section = explained(engine.snapshot(), view, (part,), clock)
        assert section.lines[1] == "load, mean watts of 1 day by hour:"
        figures = section.lines[2 + line].split()[5:]
        assert figures[place - 12 * line] == "77"


def test_the_text_has_every_room_and_its_figures() -> None:
    _, where, readings = capture("c01")
    engine = Engine(where)
    for each in readings[:1100]:
        engine.step(each)
    snapshot = engine.snapshot()
    (view,) = snapshot.banks
    sections = explained(snapshot, view, chain(engine, "house"), Clock(None))
    text = "\n".join(line for section in sections for line in (section.heading, *section.lines))
    for heading in (
        "Stage",
        "How it was worked out",
        "The cleaned signal",
        "The stage filter",
        "Set-points",
        "The charge filter",
        "The forecast",
        "The usual day",
        "Conditions",
    ):
        assert heading in text
    soc, sd = view.charge.soc.figure, view.charge.soc.sd
    assert soc is not None
    assert sd is not None
    told, doubt = with_doubt(soc, 2.0 * sd)
    assert f"fraction of charge: {told}, give or take {doubt}" in text
    assert view.volts.figure is not None
    assert f"shunt: house bank voltage: {number(view.volts.figure, 'V')} V" in text
    for assumed in view.forecast.assumptions:
        assert f"assumed: {assumed}" in text
    assert "nan" not in text
    assert "inf " not in text
