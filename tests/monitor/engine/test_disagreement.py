"""Two meters of one thing: told apart when they differ, left alone when they may."""

from __future__ import annotations

import json

import pytest

from adapters.reading import Channel, LinkState, Quantity, Reading, Tick
from monitor.engine.engine import Engine
from monitor.engine.snapshot import AlarmState, AlarmView
from tests.monitor.engine.cases_bank import twice
from tests.monitor.engine.sites import site

VOLTS = Channel("house", Quantity.BANK_VOLTS)
AMPS = Channel("house", Quantity.BANK_AMPS)
CELSIUS = Channel("house", Quantity.BANK_CELSIUS)
LINKS = (("shunt", 5.0), ("charger", 10.0))


def disagreeing(engine: Engine) -> AlarmView | None:
    found = [alarm for alarm in engine.snapshot().alarms if alarm.name == "meters-disagree"]
    return found[0] if found else None


def run(
    minutes: int,
    volts: tuple[float, float] = (12.7, 12.7),
    amps: tuple[float, float] = (-1.0, -1.0),
    celsius: tuple[float, float] = (20.0, 20.0),
    engine: Engine | None = None,
    start: float = 0.0,
) -> Engine:
    """A shunt every five seconds and a charger every ten, that says bank figures too."""
    if engine is None:
        engine = Engine(site(links=LINKS))
        engine.step(Tick(start, 1.7e9))
    for second in range(0, 60 * minutes, 5):
        now = start + second + 1.0
        load = (
            15.0 if (start + second) % 35 == 0 else 0.0
        )  # something switches on and off all the time
        told = ((VOLTS, volts[0]), (AMPS, amps[0] - load), (CELSIUS, celsius[0]))
        engine.step(Reading(now, "shunt", told))
        if second % 10 == 0:
            other = ((VOLTS, volts[1]), (AMPS, amps[1]), (CELSIUS, celsius[1]))
            engine.step(Reading(now + 2.0, "charger", other))
    return engine


def test_two_that_agree_within_their_errors_are_left_alone() -> None:
    assert disagreeing(run(60, (12.70, 12.80), (-1.0, -1.2), (20.0, 24.0))) is None


@pytest.mark.parametrize(
    ("figures", "words"),
    [
        ({"volts": (12.7, 13.1)}, "house bank voltage: charger says 0.4 V more than shunt"),
        ({"amps": (-1.0, -4.0)}, "house bank current: charger says 3 A less than shunt"),
        ({"celsius": (20.0, 31.0)}, "house bank temperature: charger says 11 °C more than shunt"),
    ],
)
def test_who_says_what_is_told(figures: dict[str, tuple[float, float]], words: str) -> None:
    alarm = disagreeing(run(45, **figures))
    assert alarm is not None
    assert words in alarm.evidence[0].words
    assert "which is believed" in alarm.evidence[0].words
    assert run(45, **figures).snapshot().banks[0].volts.figure == 12.7  # the first configured


def test_a_lead_between_two_places_is_no_disagreement() -> None:
    """40 A through 10 mohm: a charger reads 0.4 V more at its own terminals than the posts have."""
    watch = twice(13.4, 13.8, amps=40.0, minutes=120)
    assert watch.followed.disagreement.times is None
    rested = twice(12.7, 12.7, amps=0.0)
    assert rested.followed.disagreement.times == pytest.approx(0.0)


def test_one_that_dies_cannot_be_judged_and_one_that_is_mended_is_over() -> None:
    engine = run(45, (12.7, 13.1))
    assert disagreeing(engine) is not None
    engine.step(LinkState(2701.0, "charger", False, "unplugged"))
    for second in range(2705, 2705 + 45 * 60, 5):
        engine.step(Reading(float(second), "shunt", ((VOLTS, 12.7), (AMPS, -1.0))))
    assert engine.banks[0].watch.followed.disagreement.times is None
    alarm = disagreeing(engine)
    assert alarm is not None
    assert alarm.state is AlarmState.UNACKNOWLEDGED  # nothing was heard that ends it
    mended = run(60, (12.7, 12.72), engine=engine, start=6000.0)
    alarm = disagreeing(mended)
    assert alarm is not None
    assert alarm.state is AlarmState.RETURNED


def test_where_the_first_one_dies_the_other_is_believed() -> None:
    engine = run(10, (12.7, 12.75))
    engine.step(LinkState(601.0, "shunt", False, "unplugged"))
    for second in range(605, 700, 10):
        engine.step(Reading(float(second), "charger", ((VOLTS, 12.75), (AMPS, -1.0))))
    assert engine.snapshot().banks[0].volts.figure == 12.75


def test_cut_anywhere() -> None:
    whole = run(45, (12.7, 13.1))
    begun = run(13, (12.7, 13.1))
    kept = Engine(site(links=LINKS), json.loads(json.dumps(begun.state())))
    rest = run(32, (12.7, 13.1), engine=kept, start=13 * 60.0)
    assert rest.snapshot() == whole.snapshot()
    assert rest.state() == whole.state()
