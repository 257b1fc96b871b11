"""The figures before the screen: as `now` says them, within the terminal, nothing left behind."""

from __future__ import annotations

import io
import os

import pytest

from monitor.commands.at_once import at_once
from monitor.mishaps import Refusal
from monitor.plain import now_text
from monitor.words.texts import OPENING
from tests.monitor.dashboard.fake_feed import NORMAL


def shown(columns: int, rows: int) -> list[str]:
    out = io.StringIO()
    with at_once(NORMAL, out, os.terminal_size((columns, rows))):
        pass
    return out.getvalue().removeprefix("\x1b[?1049h\x1b[H\x1b[2J").split("\r\n")


def test_it_says_what_now_says() -> None:
    said = now_text(NORMAL).splitlines()
    assert any("V" in line for line in said)
    assert shown(80, 24) == [*said, "", OPENING]
    assert shown(0, 0) == shown(80, 24)  # no size is told


def test_nothing_is_drawn_beyond_the_terminal() -> None:
    lines = shown(20, 4)
    assert len(lines) == 4
    assert max(len(line) for line in lines) == 20


def test_the_terminal_is_given_back_where_no_screen_comes() -> None:
    out = io.StringIO()
    with pytest.raises(Refusal), at_once(NORMAL, out, os.terminal_size((80, 24))):
        raise Refusal("--theme: expected dark")
    assert out.getvalue().endswith("\x1b[?1049l")


def test_the_screen_that_came_is_left_alone() -> None:
    out = io.StringIO()
    with at_once(NORMAL, out, os.terminal_size((80, 24))):
        pass
    assert "\x1b[?1049l" not in out.getvalue()
