"""The log between visits, out of the index: dated, counted by the bank's lives, and folded."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from monitor.cli import main
from monitor.history.index import INDEX_NAME, Entry, opened, put
from monitor.history.log import read_log
from monitor.words.history import log_lines

#: 2026-06-10 20:00 UTC.
WALL = 1781121600.0


def command(number: int, seconds: float, name: str, target: str, words: str) -> dict[str, Any]:
    return {
        "number": number,
        "seconds": seconds,
        "kind": "command",
        "name": name,
        "target": target,
        "priority": 0,
        "words": words,
    }


def segment(number: int, offset: float | None, *events: dict[str, Any]) -> Entry:
    summary = {"rows": 9, "first": 0.0, "last": 100.0, "offset": offset, "events": list(events)}
    return Entry(number, f"boot {number}", "full", False, offset, 0.0, summary)


@pytest.fixture
def record(tmp_path: Path) -> Path:
    entries = (
        segment(
            1,
            WALL,
            command(1, 60.0, "note", "house", "ann: water added: 0.8 L"),
            command(2, 61.0, "acknowledge", "house:bank-hot", "ann"),
            command(3, 3600.0, "replace-bank", "house", "ann: two new 6 V"),
        ),
        segment(
            2,
            None,
            command(4, 5.0, "meter-reading", "house#1:specific_gravity", "ann: 1.265 at 15 °C"),
        ),
    )
    with opened(tmp_path / INDEX_NAME, write=True) as connection:
        put(connection, entries)
    return tmp_path


def test_only_what_was_entered_by_hand_is_in_it_with_the_banks_life(record: Path) -> None:
    log = read_log(record, 0.0)
    assert [(each.action, each.bank, each.life) for each in log] == [
        ("note", "house", 1),
        ("replace-bank", "house", 2),
        ("meter-reading", "house", 2),
    ]
    assert [each.wall for each in log] == [WALL + 60.0, WALL + 3600.0, None]


def test_it_is_told_in_lines_that_fit(record: Path) -> None:
    log = read_log(record, 7200.0)
    assert log_lines(log, 80, 7200.0) == [
        "2026-06-10 22:01  house: ann: water added: 0.8 L",
        "2026-06-10 23:00  house: ann: two new 6 V",
        "  from here on house is bank no. 2",
        "time not known  house#1:specific_gravity: ann: 1.265 at 15 °C",
    ]
    assert max(map(len, log_lines(log, 40, 0.0))) <= 40


def test_the_command_shows_it_and_can_be_narrowed(
    record: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["history", "log", "--directory", str(record)]) == 0
    assert "water added: 0.8 L" in capsys.readouterr().out
    assert main(["history", "log", "--directory", str(record), "--from", "2026-06-11"]) == 0
    assert capsys.readouterr().out == "nothing recorded there yet\n"
