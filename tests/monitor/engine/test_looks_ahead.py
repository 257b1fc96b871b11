"""Without looking ahead the same is said of the bank, and no circuit is run forward."""

from __future__ import annotations

from unittest.mock import patch

from adapters.reading import Action, Command
from monitor.engine import forecast
from monitor.engine.engine import Engine
from monitor.engine.snapshot import Event
from replay.coach.simulate import simulate
from replay.coach.stories import STORIES
from tests.monitor.engine.coaches import site_of

SCENARIO = STORIES["bench"].with_fault("over_voltage", 1.0).with_hours(2.0)


def played(looks_ahead: bool) -> tuple[Engine, list[Event], int]:
    engine = Engine(site_of(SCENARIO, given=True), looks_ahead=looks_ahead)
    events: list[Event] = []
    with patch.object(forecast, "run", side_effect=forecast.run) as run:
        for inputs, truth in simulate(SCENARIO):
            for value in inputs:
                events.extend(engine.step(value))
            if truth.seconds == 5400.0:  # what is forgotten then must not look ahead either
                command = Command(5400.0, "ann", Action.REPLACE_BANK, "house", "")
                events.extend(engine.step(command))
    return engine, events, run.call_count


def test_nothing_but_the_answers_is_left_out() -> None:
    with_, events, runs = played(True)
    without, same, none = played(False)
    assert events == same
    assert any(event.name == "over-voltage" for event in events)
    assert (runs > 0, none) == (True, 0)
    bank, plain = with_.snapshot().banks[0], without.snapshot().banks[0]
    assert plain.charge == bank.charge
    assert plain.stage == bank.stage
    assert plain.forecast.to_full.seconds is None
