"""What was recorded since the index was last told is shown as well, and nothing is written."""

from __future__ import annotations

from pathlib import Path

import pytest

from monitor.history import open_part
from monitor.history.days import read_cycles, read_days, read_segments
from monitor.history.index import INDEX_NAME, everything, opened
from tests.monitor.history.recorded_live import MIDNIGHT, Machine


def killed(directory: Path, seconds: float) -> None:
    """A record that was being written for so long: no farewell, as a reader beside sees it."""
    Machine(wall_zero=MIDNIGHT + 3600.0).run(directory, seconds, kill=True)


def test_the_first_minutes_are_there_before_the_index_is(tmp_path: Path) -> None:
    killed(tmp_path, 200.0)
    (day,) = read_days(tmp_path)
    assert day.day == "2023-11-15"
    assert day.seen_seconds == pytest.approx(190.0, abs=31.0)
    assert day.amp_hours_in > 0.5
    assert [held.sealed for held in read_segments(tmp_path)] == [False]


def test_what_came_after_the_index_was_told_is_in_it(tmp_path: Path) -> None:
    killed(tmp_path, 2000.0)
    with opened(tmp_path / INDEX_NAME) as connection:
        before = everything(connection)
    told = before["segments"][0][4]
    (held,) = read_segments(tmp_path)
    assert held.rows > told
    (day,) = read_days(tmp_path)
    assert day.seen_seconds > 1900.0
    assert len(read_cycles(tmp_path)) == 1
    with opened(tmp_path / INDEX_NAME) as connection:
        assert everything(connection) == before


def test_it_is_what_closing_would_have_told(tmp_path: Path) -> None:
    machine = Machine(wall_zero=MIDNIGHT + 3600.0)
    machine.run(tmp_path / "closed", 2000.0)
    machine = Machine(wall_zero=MIDNIGHT + 3600.0)
    machine.run(tmp_path / "open", 2000.0, kill=True)
    (closed,), (still,) = read_days(tmp_path / "closed"), read_days(tmp_path / "open")
    assert still.amp_hours_in == pytest.approx(closed.amp_hours_in, rel=0.05)
    assert still.soc.high == pytest.approx(closed.soc.high, abs=0.01)


def test_what_would_take_long_stays_as_the_index_has_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    killed(tmp_path, 2000.0)
    monkeypatch.setattr(open_part, "MOST_ROWS", 5)
    with opened(tmp_path / INDEX_NAME) as connection:
        told = everything(connection)["segments"][0][4]
    assert [held.rows for held in read_segments(tmp_path)] == [told]
