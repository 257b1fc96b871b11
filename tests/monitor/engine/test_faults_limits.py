"""Faults of voltage, current, temperature, protection and supply, played from simulated coaches.

Each must be named by the row that is meant for it, within its time, and nothing else of high
priority told that it does not explain; the same coach without it raises nothing of high priority.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from unittest.mock import patch

import pytest

from monitor.config import parse_config
from monitor.engine.engine import Engine
from monitor.engine.forecast import Forecast
from monitor.engine.snapshot import Event, EventKind, Priority
from replay.coach.config_text import config_text
from replay.coach.faults import FAULTS
from replay.coach.models import DeviceModel, ProtectionModel, SensorModel
from replay.coach.scenario import Onset, Scenario
from replay.coach.simulate import simulate
from replay.coach.stories import STORIES, cell_guard, with_only
from tests.monitor.engine import fault_rows
from tests.monitor.engine.coaches import guarded
from tests.monitor.engine.fault_rows import Expected

ROWS: dict[str, Expected] = {**fault_rows.LIMITS, **fault_rows.PROTECTION, **fault_rows.SUPPLY}
#: Long for what they show: the bank takes hours to get there.
LONG = {"bank_hot", "bank_cold", "may_freeze", "charged_below_zero", "over_voltage"}
MARKED = [pytest.param(name, marks=[pytest.mark.slow] if name in LONG else []) for name in ROWS]


def events_of(scenario: Scenario, config: tuple[str, str] = ("", "")) -> list[Event]:
    """Everything told; what the owner says beside goes in after the line it names."""
    line, more = config
    text = config_text(scenario)
    if line:
        assert line in text
        text = text.replace(line, f"{line}\n{more}")
    engine = Engine(parse_config(text, "coach.toml").site)
    with patch.object(Forecast, "update", lambda *_: None):
        return [
            event
            for inputs, _ in simulate(scenario)
            for value in inputs
            for event in engine.step(value)
        ]


def raised(events: list[Event]) -> list[Event]:
    return [e for e in events if e.kind is EventKind.CONDITION and e.priority is not Priority.NONE]


@cache
def told_of(fault: str) -> tuple[Event, ...]:
    expected = ROWS[fault]
    hours = FAULTS[fault].onset_hours + expected.hours
    return tuple(events_of(with_only(fault).with_hours(hours), expected.config))


@pytest.mark.parametrize("fault", MARKED)
def test_the_fault_is_named_in_time_and_nothing_else_is_cried(fault: str) -> None:
    expected = ROWS[fault]
    shows = 3600.0 * (FAULTS[fault].onset_hours + expected.shows_hours)
    events = raised(list(told_of(fault)))
    named = [event for event in events if event.name == expected.row]
    assert named
    assert 3600.0 * FAULTS[fault].onset_hours <= named[0].seconds <= shows + expected.seconds
    high = {event.name for event in events if event.priority is Priority.HIGH}
    assert high <= expected.also | {expected.row}


def test_a_supply_that_swings_is_told_once_for_each_way() -> None:
    names = [event.name for event in raised(list(told_of("lost_neutral")))]
    assert names.count("ac-high") == names.count("ac-low") == names.count("lost-neutral") == 1


@pytest.mark.parametrize(
    ("fault", "name", "minutes"),
    [
        ("charge_side_opens", "charge-side-closed", 120),
        ("discharge_side_opens", "discharge-side-closed", 60),
    ],
)
def test_a_side_that_closed_again_is_told_once(fault: str, name: str, minutes: int) -> None:
    events = told_of(fault)
    (event,) = [event for event in events if event.name == name]
    after = event.seconds - 3600.0 * FAULTS[fault].onset_hours - 60.0 * minutes
    assert 0.0 <= after < 60.0
    assert event.priority is Priority.NONE
    assert "again" in event.words


def test_power_that_nobody_expected_is_not_missed() -> None:
    """Two hours of shore power, then none: people leave."""
    scenario = with_only("ac_lost").with_hours(4.0)
    assert not [e for e in raised(events_of(scenario)) if e.name.startswith("ac-")]


#: Told of a healthy coach because it is so: two sources of 75 A together on 230 Ah, flooded.
TRUE_OF = {"pinewater": {"charge-current-high"}}
#: The three whole coaches for a working day; every story at its own length among the slow.
QUICK = {"pinewater": 8.0, "saltmarsh": 8.0, "highfell": 8.0}
HEALTHY = [
    *QUICK.items(),
    *(
        pytest.param(name, scenario.hours, marks=pytest.mark.slow)
        for name, scenario in STORIES.items()
    ),
]


@pytest.mark.parametrize(("story", "hours"), HEALTHY)
def test_a_healthy_coach_raises_nothing_high_and_little_else(story: str, hours: float) -> None:
    """Of all rows nothing high; of these rows, hardly one a day of any priority."""
    events = raised(events_of(replace(STORIES[story], faults=(), hours=hours)))
    assert [event.name for event in events if event.priority is Priority.HIGH] == []
    ours = [event.name for event in events if event.name in OURS]
    assert len([name for name in ours if name not in TRUE_OF.get(story, set())]) <= hours / 24.0


OURS = {expected.row for expected in ROWS.values()} | {
    "under-voltage",
    "under-voltage-at-rest",
    "cell-over-voltage",
    "cell-under-voltage",
    "inverter-cut-off-near",
    "gassing-too-long",
    "below-lowest-soc",
    "warming-in-float",
    "temperature-off-air",
    "cell-near-high-limit",
    "cell-near-low-limit",
    "charge-near-cold-limit",
    "bank-near-hot-limit",
    "ac-gone",
    "ac-above-charger-range",
    "ac-below-charger-range",
}


@pytest.mark.parametrize(
    ("empty", "warned", "opened", "least"),
    [
        # 46 A take the leading cell through its last tenth of a volt in half a minute
        (False, "cell-near-high-limit", "charge-side-open", 20.0),
        (True, "cell-near-low-limit", "discharge-side-open", 600.0),
    ],
)
def test_a_side_is_warned_of_before_it_opens(
    empty: bool, warned: str, opened: str, least: float
) -> None:
    scenario = replace(guarded(cell_guard(), empty=empty), protection=ProtectionModel(), hours=3.0)
    events = raised(events_of(scenario))
    first = {event.name: event for event in reversed(events)}
    assert first[opened].seconds - first[warned].seconds >= least
    words = first[opened].evidence[0].words
    assert words.startswith(f"the {'lowest' if empty else 'highest'} cell stands at ")


@pytest.mark.slow
def test_a_sensor_that_was_wrong_from_the_start_is_told_by_the_air() -> None:
    """35 °C too much from the first reading on: nothing leaps, but the air is measured too."""
    scenario = with_only("temperature_implausible")
    air = DeviceModel("air", (SensorModel("ambient_celsius", noise=0.1, step=0.5),), 60.0)
    scenario = replace(
        scenario,
        devices=(*scenario.devices, air),
        faults=(Onset("temperature_implausible", 0.0),),
        hours=9.0,
    )
    (event,) = [e for e in raised(events_of(scenario)) if e.name == "temperature-off-air"]
    assert 6.0 <= event.seconds / 3600.0 <= 7.5
    healthy = raised(events_of(replace(scenario, faults=())))
    assert "temperature-off-air" not in {event.name for event in healthy}
