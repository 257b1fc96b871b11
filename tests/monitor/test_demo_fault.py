"""`ampwright demo --fault NAME`: every fault of the simulator, from shortly before it begins."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import replace
from unittest.mock import patch

import pytest

from adapters.reading import Input, Reading
from monitor.cli import main
from monitor.commands.demo import BEFORE_SECONDS, WATCHED_SECONDS, with_fault
from monitor.commands.screens import print_recording
from monitor.engine.engine import Engine
from monitor.engine.forecast import Forecast
from monitor.engine.snapshot import EventKind
from replay.coach.faults import FAULTS
from replay.coach.simulate import simulate
from replay.coach.simulated import SimulatedRecording
from replay.coach.staging import STAGING, staged
from replay.coach.stories import STORIES
from replay.recording import Recording
from tests.monitor.engine import test_faults_charging as charging
from tests.monitor.engine import test_faults_limits as limits


def test_the_list_has_every_fault_with_its_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", "--fault", "list"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == len(FAULTS)
    assert f"shorted_cell: {FAULTS['shorted_cell'].words}" in lines


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--fault", "shunt_revrsed"], 'did you mean "shunt_reversed"?'),
        (["--fault", "shorted-cell"], 'did you mean "shorted_cell"?'),
        (["--fault", "zzz"], "see: ampwright demo --fault list"),
        (["pinewater", "--fault", "ac_low"], "leave one out"),
    ],
)
def test_a_wrong_name_is_one_line_with_what_to_do(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["demo", *words]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert said in error


@pytest.mark.parametrize("name", FAULTS)
def test_every_fault_has_a_coach_that_plays(name: str) -> None:
    """The configuration is read and the first minutes reach the engine; nothing waits for more."""
    recorded, begin, pace = with_fault(name)
    engine = Engine(recorded.site, None)
    for value in itertools.islice(recorded.recording.inputs(), 60):
        engine.step(value)
    (bank,) = engine.snapshot().banks
    assert bank.volts.figure is not None or name in ("volts_missing", "device_silent")
    told = 3600.0 * staged(name).told_hours
    assert begin <= 3600.0 * staged(name).onset_hours < told < recorded.recording.end
    assert (told - begin) / pace <= WATCHED_SECONDS + 1.0
    assert FAULTS[name].words in recorded.recording.title


def test_made_while_it_plays_it_is_the_same_scenario_and_the_same_again() -> None:
    scenario = STORIES["bench"].with_hours(0.5)
    recording = SimulatedRecording(scenario)
    first, second = recording.inputs(), recording.inputs()
    mixed = [next(first) for _ in range(50)]
    assert [next(second) for _ in range(50)] == mixed
    whole = [value for inputs, _ in simulate(scenario) for value in inputs]
    assert [*mixed, *first] == whole
    assert list(recording.inputs()) == whole
    assert (recording.start, recording.end) == (0.0, 1800.0)
    assert any(isinstance(value, Reading) for value in whole)


def test_the_lines_begin_shortly_before_the_fault(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A shorted cell is told within minutes of its onset, and nothing older is printed."""
    recorded, begin, _ = with_fault("shorted_cell")
    onset = begin + BEFORE_SECONDS
    inputs = itertools.takewhile(
        lambda value: value.seconds < onset + 900.0, recorded.recording.inputs()
    )
    short = _Short(recorded.recording, list(inputs))
    print_recording(replace(recorded, recording=short), math.inf, begin)
    lines = capsys.readouterr().out.splitlines()
    alarm = next(n for n, line in enumerate(lines) if "One cell is shorted" in line)
    assert "alarm HIGH !!!" in lines[alarm]
    assert alarm < 10
    first = _minutes(lines[0])
    assert 0 <= _minutes(lines[alarm]) - first <= 15


ROWS: dict[str, str] = {
    "temperature_stuck": "temperature-stuck",
    "temperature_missing": "temperature-missing",
    **{name: row.row for name, row in limits.ROWS.items()},
    **{name: row.rows[0] for name, row in charging.ROWS.items()},
}
#: Simulated hours that the quick suite takes of one fault.
QUICK_HOURS = 2.0


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(
            name, marks=[pytest.mark.slow] if staged(name).told_hours > QUICK_HOURS else []
        )
        for name in FAULTS
    ],
)
def test_what_is_watched_shows_the_row_of_the_fault(name: str) -> None:
    """Raised after it began, and by when the screen is said to show it."""
    recorded, begin, _ = with_fault(name)
    engine, raised = Engine(recorded.site, None), None
    told = 3600.0 * staged(name).told_hours
    with patch.object(Forecast, "update", lambda *_: None):
        for value in recorded.recording.inputs():
            for event in engine.step(value):
                if event.kind is EventKind.ALARM and event.name == ROWS[name] and raised is None:
                    raised = event.seconds
            if raised is not None or value.seconds > told:
                break
    assert raised is not None
    assert begin <= raised <= told


def test_every_fault_is_staged() -> None:
    assert set(STAGING) == set(FAULTS) == set(ROWS)


class _Short:
    """The beginning of a recording."""

    def __init__(self, recording: Recording, inputs: list[Input]) -> None:
        self.header, self.title, self.start = recording.header, recording.title, recording.start
        self.end = inputs[-1].seconds
        self._inputs = inputs

    def inputs(self) -> Iterator[Input]:
        return iter(self._inputs)


def _minutes(line: str) -> int:
    hours, minutes = line.split()[0].split(":")
    return 60 * int(hours) + int(minutes)
