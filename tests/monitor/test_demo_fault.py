"""`ampwright demo --fault NAME`: every fault of the simulator, from shortly before it begins."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import replace

import pytest

from adapters.reading import Input, Reading
from monitor.cli import main
from monitor.commands.demo import BEFORE_SECONDS, with_fault
from monitor.commands.screens import print_recording
from monitor.engine.engine import Engine
from replay.coach.faults import FAULTS
from replay.coach.simulate import simulate
from replay.coach.simulated import SimulatedRecording
from replay.coach.stories import STORIES
from replay.recording import Recording


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
    recorded, onset = with_fault(name)
    engine = Engine(recorded.site, None)
    for value in itertools.islice(recorded.recording.inputs(), 60):
        engine.step(value)
    (bank,) = engine.snapshot().banks
    assert bank.volts.figure is not None or name in ("volts_missing", "device_silent")
    assert recorded.recording.end >= onset + BEFORE_SECONDS
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
    recorded, onset = with_fault("shorted_cell")
    inputs = itertools.takewhile(
        lambda value: value.seconds < onset + 900.0, recorded.recording.inputs()
    )
    short = _Short(recorded.recording, list(inputs))
    print_recording(replace(recorded, recording=short), math.inf, onset - BEFORE_SECONDS)
    lines = capsys.readouterr().out.splitlines()
    alarm = next(n for n, line in enumerate(lines) if "One cell is shorted" in line)
    assert "alarm HIGH !!!" in lines[alarm]
    assert alarm < 10
    first = _minutes(lines[0])
    assert 0 <= _minutes(lines[alarm]) - first <= 15


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
