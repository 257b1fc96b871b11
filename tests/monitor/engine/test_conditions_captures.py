"""The fault captures found by name and in time; the healthy ones left in peace."""

from __future__ import annotations

import math
import re

import pytest

from monitor.engine.engine import Engine
from monitor.engine.forecast import Forecast
from monitor.engine.snapshot import Event, EventKind, Priority
from tests.monitor.engine.captures import TRUTH, capture

#: The condition that must name each kind of fault, the words of the truth that it must say too,
#: and what else of high priority the fault itself explains.
FAULTS = {
    "g01": ("shunt-reversed", ("wrong sign", "backwards", "cannot be trusted"), set()),
    "g02": ("temperature-stuck", ("not moved at all", "many hours", "sensor is stuck"), set()),
    "g03": ("joint-resistance", ("voltage lost", "grown", "joint or crimp", "taper early"), set()),
    "g04": (
        "absorption-never-ends",
        ("absorption has been held", "does not go to float", "water loss"),
        set(),
    ),
    "g05": (
        "thermal-runaway",
        ("current is rising while the voltage is held constant", "getting hotter"),
        {"bank-hot"},
    ),
    "g06": ("shorted-cell", ("one cell is shorted", "all at once", "set-point"), {"bank-hot"}),
}
HEALTHY = sorted(path.name[:3] for path in TRUTH.glob("c*.csv.gz"))


@pytest.fixture(autouse=True)
def _no_forecast(monkeypatch: pytest.MonkeyPatch) -> None:
    """Conditions do not look ahead, and looking ahead is what takes the time."""
    monkeypatch.setattr(Forecast, "update", lambda *_: None)


def conditions_of(
    name: str, first: int = 0, last: int | None = None, until: float = math.inf
) -> list[Event]:
    _, site, readings = capture(name)
    engine = Engine(site)
    return [
        event
        for reading in readings[first:last]
        if reading.seconds <= until
        for event in engine.step(reading)
        if event.kind is EventKind.CONDITION and event.priority is not Priority.NONE
    ]


def plain(words: str) -> str:
    return re.sub(r"\s+", " ", words.lower())


@pytest.mark.parametrize("name", FAULTS)
def test_the_fault_is_named_in_time_and_nothing_else_is_cried(name: str) -> None:
    expected, words, explained = FAULTS[name]
    about, _, _ = capture(name)
    fault = about["fault"]
    events = conditions_of(name, until=fault["expect_by_s"])
    found = [event for event in events if event.name == expected]
    assert len(found) == 1
    (event,) = found
    assert fault["onset_t_s"] <= event.seconds <= fault["expect_by_s"]
    for part in words:
        assert part in plain(event.words)
        assert part in plain(fault["say"])
    high = {event.name for event in events if event.priority is Priority.HIGH}
    assert high - {expected} <= explained


@pytest.mark.parametrize(
    ("name", "first", "last"),
    [("c02", 0, 8500), ("c03", 14500, None), ("c07", 4000, 9000), ("c12", 4000, 9000)],
)
def test_healthy_stretches_that_look_like_faults_raise_nothing(
    name: str, first: int, last: int | None
) -> None:
    """A cold bank let go from absorption; a cloud and loads; equalizing; a hot bank."""
    assert conditions_of(name, first, last) == []


@pytest.mark.slow
@pytest.mark.parametrize("name", FAULTS)
def test_to_the_end_of_the_capture_nothing_else_is_cried(name: str) -> None:
    expected, _, explained = FAULTS[name]
    events = conditions_of(name)
    assert [event.name for event in events].count(expected) == 1
    assert {e.name for e in events if e.priority is Priority.HIGH} - {expected} <= explained


@pytest.mark.slow
@pytest.mark.parametrize("name", HEALTHY)
def test_healthy_captures_raise_nothing_but_what_they_have(name: str) -> None:
    """A gap is told in c11, that little is left of the bank in c13 (72 % by its truth), and in c18
    that the protection has parted the bank from its source."""
    told = {"c11": {"device-silent"}, "c13": {"empty-too-soon"}, "c18": {"source-cut-off"}}
    assert {event.name for event in conditions_of(name)} == told.get(name, set())
