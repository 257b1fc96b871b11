"""Every screen reached and left in a real terminal by single letters, on a desk and on a phone."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from monitor.dashboard.actions import DEEDS
from tests.monitor.dashboard.fake_feed import FakeFeed
from tests.monitor.dashboard.pseudo_terminal import ROOT
from tests.monitor.dashboard.screen_text import press, rows, running, text
from tests.wire.tmux import Terminal, needs_tmux

#: What stands on each screen and not on the live one.
THERE = {
    "help": "Help",
    "alarms": "Alarms: ",
    "account": "Account: house",
    "tonight": "Tonight: house",
    "trend": "Trend, 6 h",
    "bank": "Bank: house",
    "explain": "Why each figure",
    "glance": "b bank",
    "devices": "Links",
    "journal": "What happened",
    "commission": "Proving an installation",
}

#: On these the letters of other screens mean something of their own.
OWN_LETTERS = ("alarms", "trend", "commission")


@needs_tmux
@pytest.mark.slow
@pytest.mark.parametrize("size", [(80, 24), (40, 15), (30, 10)])
def test_every_screen_by_letters_alone(tmp_path: Path, size: tuple[int, int]) -> None:
    screens = [deed for deed in DEEDS if deed.screen]
    assert {deed.action for deed in screens} == set(THERE)
    with Terminal(*size, {"PYTHONPATH": str(ROOT)}) as shell:
        board = "tests.monitor.dashboard.board_in_terminal"
        shell.run(sys.executable, "-m", board, "1", tmp_path / "log")
        shell.until("q quit", 20, "no alarm")
        for deed in screens:
            shell.type(deed.key)
            shell.until(THERE[deed.action], 10, "x back")
            shell.type("x")
            shell.until("q quit", 10, "h help")
        # The cautions by their own key, one screen in place of another, and out.
        shell.type("y")
        shell.until("y I read this", 10)
        shell.type("y")
        shell.until("h help", 10)
        for deed in screens:
            if deed.action not in OWN_LETTERS:
                shell.type(deed.key)
                shell.until(THERE[deed.action], 10)
        shell.type("x")
        shell.until("h help", 10)
        shell.type("q")
        shell.ended_well()


async def test_the_whole_help_is_read_by_letters_on_the_smallest_screen() -> None:
    async with running(FakeFeed(), (30, 10)) as (board, pilot):
        await press(pilot, "h")
        seen, before = text(board), ""
        while text(board) != before:
            before = text(board)
            await press(pilot, "n")
            seen += text(board)
        for deed in DEEDS:
            if not deed.replay:
                assert f"\n {deed.key}  " in seen, deed.action
        assert "x back" in rows(board)[-1]
