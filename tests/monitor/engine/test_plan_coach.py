"""The evening's questions against coaches whose truth is known: the intervals hold it.

The coach's cells are not the engine's circuit, its loads and weather are random by a seed, and the
devices see everything through noise and steps.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from adapters.reading import Input
from monitor.config import parse_config
from monitor.engine.engine import Engine
from monitor.engine.outlook import Outlook, outlook_of
from monitor.engine.plan import Verdict, dawn, sun
from monitor.engine.plan_generator import generator
from monitor.engine.plan_load import EFFICIENCY, Inverter, load
from replay.coach.config_text import config_text
from replay.coach.models import LoadModel
from replay.coach.scenario import Scenario
from replay.coach.simulate import simulate
from replay.coach.stories import STORIES
from replay.coach.truth import Truth

HOUR = 3600.0
SLOW = pytest.mark.slow


def coach(
    story: str, seed: int, hours: float, connected: tuple[tuple[float, float], ...]
) -> Scenario:
    """A coach whose first source is connected at these hours, polled slowly to be quick."""
    scenario = STORIES[story]
    first = replace(scenario.sources[0], connected=connected)
    devices = tuple(
        replace(d, period_seconds=max(d.period_seconds, 20.0)) for d in scenario.devices
    )
    return replace(
        scenario,
        seed=seed,
        hours=hours,
        faults=(),
        sources=(first, *scenario.sources[1:]),
        devices=devices,
    )


def without_sun(scenario: Scenario) -> Scenario:
    return replace(
        scenario,
        sources=scenario.sources[:1],
        devices=tuple(d for d in scenario.devices if "roof" not in d.name),
    )


class Told:
    """An engine that follows a coach; `until` steps both and gives the truth of each step."""

    def __init__(self, scenario: Scenario) -> None:
        site = parse_config(config_text(scenario), "coach.toml").site
        # plans are made from what was learned, not from the forecast
        self.engine = Engine(site, looks_ahead=False)
        self.steps: Iterator[tuple[tuple[Input, ...], Truth]] = simulate(scenario)
        self.truth: Truth | None = None

    def until(self, seconds: float) -> Iterator[Truth]:
        for inputs, truth in self.steps:
            for value in inputs:
                self.engine.step(value)
            self.truth = truth
            yield truth
            if truth.seconds >= seconds:
                return

    def view_at(self, hours: float) -> Outlook:
        for _ in self.until(hours * HOUR):
            pass
        view = outlook_of(self.engine, "house")
        assert view is not None
        return view


@pytest.mark.parametrize(
    ("story", "connected", "asked", "seed"),
    [
        pytest.param("pinewater", ((0.0, 14.5),), 32.0, 1, marks=SLOW),
        ("highfell", ((1.0, 3.5),), 12.0, 3),
        *(
            pytest.param(story, connected, asked, seed, marks=SLOW)
            for seed in range(4, 9)
            for story, connected, asked in (
                ("pinewater", ((0.0, 14.5),), 32.0),
                ("pinewater", ((0.0, 14.5),), 26.0),
                ("saltmarsh", ((4.0, 7.2),), 38.0),
                ("highfell", ((1.0, 3.5),), 12.0),
            )
        ),
    ],
)
def test_dawn_holds_the_truth(
    story: str, connected: tuple[tuple[float, float], ...], asked: float, seed: int
) -> None:
    told = Told(coach(story, seed, asked + 24.0, connected))
    answer = dawn(told.view_at(asked))
    assert answer.soc is not None
    assert answer.dawn is not None
    assert answer.load_amp_hours is not None
    drawn = sum(truth.load_amps * 5.0 / HOUR for truth in told.until(answer.dawn.seconds))
    assert told.truth is not None
    assert answer.soc.low <= told.truth.soc <= answer.soc.high
    assert answer.load_amp_hours.low <= drawn <= answer.load_amp_hours.high
    # an interval that holds everything would be no answer
    assert answer.soc.high - answer.soc.low < 0.5


@pytest.mark.slow
def test_nights_that_are_known_are_told_closely() -> None:
    """After four nights of a known household the load of the next is known to a third."""
    told = Told(without_sun(coach("pinewater", 9, 120.0, ((0.0, 1e6),))))
    answer = dawn(told.view_at(96.0))
    assert answer.load_amp_hours is not None
    assert answer.dawn is not None
    drawn = sum(truth.load_amps * 5.0 / HOUR for truth in told.until(answer.dawn.seconds))
    low, high = answer.load_amp_hours.low, answer.load_amp_hours.high
    assert low <= drawn <= high
    assert answer.load_amp_hours.figure == pytest.approx(drawn, rel=0.25)


@pytest.mark.parametrize(
    ("story", "before", "asked", "to_soc", "amps", "seed"),
    [
        ("highfell", 2.0, 14.0, 0.9, 50.0, 1),
        pytest.param("saltmarsh", 4.0, 26.0, 0.85, 50.0, 2, marks=SLOW),
        *(
            pytest.param(story, before, asked, to_soc, amps, seed, marks=SLOW)
            for seed in (3, 4, 5)
            for story, before, asked, to_soc, amps in (
                ("highfell", 2.0, 14.0, 0.95, 50.0),
                ("pinewater", 6.0, 20.0, 0.9, 45.0),
                ("saltmarsh", 4.0, 26.0, 0.85, 50.0),
            )
        ),
    ],
)
def test_a_generator_s_time_holds_the_truth(
    story: str, before: float, asked: float, to_soc: float, amps: float, seed: int
) -> None:
    """The first source comes on when asked, alone; the taper under half is foretold too."""
    connected = ((0.0, before), (asked, 1e6))
    told = Told(without_sun(coach(story, seed, asked + 12.0, connected)))
    view = told.view_at(asked)
    answer = generator(view, to_soc, amps, source=view.sources[0].id)
    assert answer.seconds is not None
    start, tapered, there = view.seconds, None, None
    for truth in told.until((asked + 12.0) * HOUR):
        gone = truth.seconds - start
        if tapered is None and gone > 300.0 and truth.source_amps[0] < 0.5 * amps:
            tapered = gone
        if truth.soc >= to_soc:
            there = gone
            break
    assert there is not None
    assert answer.seconds.low <= there <= answer.seconds.high
    if answer.pays_seconds is not None and tapered is not None:
        assert answer.pays_seconds.low <= tapered <= answer.pays_seconds.high


@pytest.mark.parametrize(
    ("story", "soc", "watts", "minutes", "seed"),
    [
        ("pinewater", 0.9, 1500.0, 10.0, 1),
        ("highfell", 0.6, 1000.0, 60.0, 1),
        ("saltmarsh", 0.9, 2000.0, 20.0, 1),
        *(
            pytest.param(story, soc, watts, minutes, 2, marks=SLOW)
            for soc in (0.9, 0.6)
            for story, watts, minutes in (
                ("pinewater", 1200.0, 30.0),
                ("pinewater", 1500.0, 10.0),
                ("highfell", 2500.0, 20.0),
                ("highfell", 1000.0, 60.0),
                ("saltmarsh", 2000.0, 20.0),
            )
        ),
    ],
)
def test_the_lowest_volts_under_a_load_hold_the_truth(
    story: str, soc: float, watts: float, minutes: float, seed: int
) -> None:
    """Ten hours without a source, then the inverter; a load that fails is never called possible."""
    quiet = without_sun(coach(story, seed, 10.0 + minutes / 60.0 + 0.1, ()))
    inverter = LoadModel("inverter", watts / EFFICIENCY, "given", at=((10.0, minutes),))
    told = Told(replace(quiet, bank=replace(quiet.bank, soc=soc), loads=(*quiet.loads, inverter)))
    view = told.view_at(10.0 - 1 / 720)
    answer = load(view, watts, 60.0 * minutes, Inverter(lead_ohms=0.0))
    assert answer.lowest_volts is not None
    end = (10.0 + minutes / 60.0) * HOUR
    lowest = min(truth.volts for truth in told.until(end - 5.0))
    assert answer.lowest_volts.low <= lowest <= answer.lowest_volts.high
    if answer.possible is Verdict.YES:
        assert lowest >= answer.cut_off_volts
    if answer.possible is Verdict.NO:
        assert lowest < answer.cut_off_volts


@pytest.mark.parametrize(
    ("story", "panel_watts", "asked", "seed"),
    [
        ("saltmarsh", 520.0, 38.0, 2),
        *(
            pytest.param(story, panel, 55.0, seed, marks=SLOW)
            for seed in (1, 2, 3)
            for story, panel in (("pinewater", 380.0), ("pinewater", 120.0), ("saltmarsh", 520.0))
        ),
    ],
)
def test_the_coming_day_s_sun_holds_the_truth(
    story: str, panel_watts: float, asked: float, seed: int
) -> None:
    """At dawn, and at dusk after the day's sun, asked on the same evening."""
    scenario = coach(story, seed, 100.0, ((0.0, 5.0),))
    roof = replace(scenario.sources[1], panel_watts=panel_watts)
    told = Told(replace(scenario, sources=(scenario.sources[0], roof)))
    view = told.view_at(asked)
    night, answer = dawn(view), sun(view)
    assert night.soc is not None
    assert night.dawn is not None
    assert answer.soc is not None
    assert answer.day is not None
    assert answer.amp_hours is not None
    assert answer.day[0] == night.dawn.seconds
    for truth in told.until(answer.day[0]):
        morning = truth.soc
    assert night.soc.low <= morning <= night.soc.high
    full = False
    given = 0.0
    for truth in told.until(answer.day[1]):
        full = full or truth.full
        given += truth.source_amps[1] * 5.0 / HOUR
        dusk = truth.soc
    assert answer.soc.low <= dusk <= answer.soc.high
    assert given <= answer.amp_hours.high
    if answer.fills is Verdict.YES:
        assert full
    if answer.fills is Verdict.NO:
        assert not full
