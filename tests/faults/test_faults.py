"""The quick part of `make faults`: each fault a few times. Acknowledged rows are there, none is
wrong, and the recorder comes back by itself."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from replay.capture import open_capture
from replay.segments import segments
from tests.faults.clock_steps import clock_steps
from tests.faults.damage import bit_flips, torn_tails
from tests.faults.full_disk import full_disk
from tests.faults.kill import kill_loop
from tests.faults.power_cut import failing_card, power_cut
from tests.faults.recorder import Recorder, check
from tests.faults.result import Result, Skipped, table


def held(made: Callable[[], Result]) -> Result:
    try:
        result = made()
    except Skipped as skipped:
        pytest.skip(skipped.why)
    assert (result.wrong, result.said) == (0, ())
    assert result.acknowledged > 50
    assert result.lost == 0 or result.note
    return result


def test_kill(tmp_path: Path) -> None:
    held(lambda: kill_loop(tmp_path / "record", 4))


def test_torn_tails(tmp_path: Path) -> None:
    held(lambda: torn_tails(tmp_path, every=90))


def test_bit_flips(tmp_path: Path) -> None:
    held(lambda: bit_flips(tmp_path, 3))


def test_full_disk(tmp_path: Path) -> None:
    held(lambda: full_disk(tmp_path, 4))


def test_power_cut(tmp_path: Path) -> None:
    held(lambda: power_cut(tmp_path, 2))


def test_failing_card(tmp_path: Path) -> None:
    held(lambda: failing_card(tmp_path, 1))


@pytest.mark.slow
def test_clock_steps(tmp_path: Path) -> None:
    held(lambda: clock_steps(tmp_path / "clock"))


def test_the_check_itself_would_notice(tmp_path: Path) -> None:
    """A row that is not there, and one that is not what was written."""
    recorder = Recorder(tmp_path / "record")
    recorder.start()
    recorder.listen(20.0, rows=200)
    recorder.kill()
    assert check(recorder.directory, recorder.acknowledged).lost == 0
    there = {
        segment.number: sum(1 for _ in open_capture(segment.path).recorded())
        for segment in segments(recorder.directory)
    }
    assert check(recorder.directory, there).lost == 0
    more = {number: rows + 7 for number, rows in there.items()}
    assert check(recorder.directory, {**more, 99: 3}).lost == 7 * len(there) + 3
    from tests.faults import recorder as module

    real, module.figures = module.figures, lambda seconds: (12.0, seconds)
    try:
        assert check(recorder.directory, recorder.acknowledged).wrong > 0
    finally:
        module.figures = real
    bad = Result("a fault", 1, 10, 1, 0)
    assert not bad.held
    assert "| a fault | 1 | 10 | 1 | 0 |  |" in table([bad])
