"""Faults of charging, installation and devices, played from simulated coaches to the whole engine.

Each must be named by the row that is meant for it, within its time, and nothing else of high
priority told that it does not explain; the same coach without it raises nothing of high priority.
Long runs are slow; the quick ones show every follower at work.
"""

from __future__ import annotations

from dataclasses import replace
from unittest.mock import patch

import pytest

from monitor.engine.engine import Engine
from monitor.engine.forecast import Forecast
from monitor.engine.snapshot import Event, EventKind, Priority
from replay.coach import slow_stories as coaches
from replay.coach.faults import FAULTS
from replay.coach.scenario import Scenario
from replay.coach.simulate import simulate
from replay.coach.stories import STORIES
from tests.monitor.engine import fault_rows, fault_rows_charging, fault_rows_installation
from tests.monitor.engine.coaches import site_of
from tests.monitor.engine.fault_rows_charging import FaultRow

ROWS: dict[str, FaultRow] = {
    **fault_rows_charging.CHARGING,
    **fault_rows_installation.INSTALLATION,
    **fault_rows_installation.TOOL,
}
#: Simulated hours that the quick suite takes of one fault.
QUICK_HOURS = 4.0
MARKED = [
    pytest.param(name, marks=[pytest.mark.slow] if row.onset + row.end > QUICK_HOURS else [])
    for name, row in ROWS.items()
]


def raised(scenario: Scenario) -> list[Event]:
    engine = Engine(site_of(scenario, given=True))
    with patch.object(Forecast, "update", lambda *_: None):
        return [
            event
            for inputs, _ in simulate(scenario)
            for value in inputs
            for event in engine.step(value)
            if event.kind is EventKind.CONDITION and event.priority is not Priority.NONE
        ]


@pytest.mark.parametrize("fault", MARKED)
def test_the_fault_is_named_in_time_and_nothing_else_is_cried(fault: str) -> None:
    row = ROWS[fault]
    scenario = replace(row.coach, faults=()).with_fault(fault, row.onset)
    events = raised(scenario.with_hours(row.onset + row.end))
    for name in row.rows:
        named = [event.seconds / 3600.0 - row.onset for event in events if event.name == name]
        assert named
        assert 0.0 <= named[0] <= row.hours
    high = {event.name for event in events if event.priority is Priority.HIGH}
    assert high - set(row.rows) <= row.also


def test_every_fault_of_the_simulator_has_a_row_that_names_it() -> None:
    others = {*fault_rows.LIMITS, *fault_rows.PROTECTION, *fault_rows.SUPPLY}
    #: What others look at, by themselves or on captures.
    elsewhere = {"temperature_stuck", "temperature_missing"}
    assert set(FAULTS) - others - set(ROWS) == elsewhere


#: The coaches of the faults, and the stories, with nothing wrong.
HEALTHY = {
    coach.name: coach
    for coach in (
        *STORIES.values(),
        coaches.BENCH_WITH_AC,
        coaches.TIMED,
        coaches.DAILY,
        coaches.FLOATING,
        coaches.HOT_LFP,
        coaches.SUNNY,
    )
}
OURS = {name for row in ROWS.values() for name in row.rows} | {
    "capacity-low",
    "capacity-impossible",
    "drained-unseen",
}


@pytest.mark.slow
@pytest.mark.parametrize("coach", HEALTHY)
def test_the_same_coach_without_fault_is_left_in_peace(coach: str) -> None:
    """Nothing of high priority, and of the rows looked at here nothing at all."""
    events = raised(replace(HEALTHY[coach], faults=()))
    assert [event.name for event in events if event.priority is Priority.HIGH] == []
    assert {event.name for event in events if event.name in OURS} == set()
