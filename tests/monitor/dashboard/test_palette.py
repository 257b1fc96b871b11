"""The list of commands does the right thing on screens that use letters for something else."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final

import pytest

from monitor.dashboard.actions import DEEDS, deed_of
from monitor.dashboard.app import Dashboard
from monitor.dashboard.screens import devices
from monitor.dashboard.screens.alarms import AlarmsScreen
from monitor.dashboard.screens.now import NowScreen
from monitor.dashboard.screens.safety import SafetyScreen
from monitor.dashboard.screens.tonight import TonightScreen
from monitor.dashboard.screens.trend import TrendScreen
from monitor.words.devices import Found
from tests.monitor.dashboard.fake_feed import NORMAL, FakeFeed, FakePlayer
from tests.monitor.dashboard.screen_text import press, running, settle

OWN: Final = {"alarms": AlarmsScreen, "trend": TrendScreen, "tonight": TonightScreen}
#: What is looked at to see that a command did something, beside the screens.
CHANGES: Final[dict[str, Callable[[Dashboard], object]]] = {
    "next_bank": lambda board: board.bank_index,
    "next_window": lambda board: board.window_seconds,
    "next_theme": lambda board: board.theme,
    "next_glyphs": lambda board: board.signs,
    "next_degrees": lambda board: board.fahrenheit,
    "next_hours": lambda board: board.twelve,
    "copy": lambda board: board.clipboard,
    "save": lambda board: len(list(board.folder.glob("*.svg"))),
    "pause": lambda board: _player(board).paused,
    "slower": lambda board: _player(board).rate,
    "faster": lambda board: _player(board).rate,
    "earlier": lambda board: _player(board).position,
    "later": lambda board: _player(board).position,
    "step": lambda board: _player(board).steps,
    "event_before": lambda board: _player(board).position,
    "next_event": lambda board: _player(board).rate,
    "begin_again": lambda board: _player(board).position,
    "go_to": lambda board: len(board.screen_stack),
}


def _player(board: Dashboard) -> FakePlayer:
    assert isinstance(board.feed.player, FakePlayer)
    return board.feed.player


def _command(board: Dashboard, words: str) -> Callable[[], object]:
    (found,) = [
        each.callback for each in board.get_system_commands(board.screen) if each.title == words
    ]
    return found


@pytest.mark.slow
@pytest.mark.parametrize("own", OWN)
async def test_every_command_from_a_screen_with_keys_of_its_own(
    own: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(devices, "found", lambda: Found((), (), ()))
    feed = FakeFeed(NORMAL, FakePlayer())
    async with running(feed, (80, 24), folder=tmp_path) as (board, pilot):
        seen = set()
        for deed in DEEDS:
            if deed.action in ("leave", "commands"):
                continue
            board.action_open(own)
            await settle(pilot)
            assert isinstance(board.screen, OWN[own]), deed.action
            _player(board).position = 50_000.0
            look = CHANGES.get(deed.action)
            before = look(board) if look else None
            _command(board, deed.words)()
            await settle(pilot)
            if deed.screen:
                name = NowScreen.__name__ if deed.action == own else deed.screen.partition(":")[2]
                assert type(board.screen).__name__ == name
            elif deed.action == "cautions":
                assert isinstance(board.screen, SafetyScreen)
            else:
                assert look is not None, deed.action
                assert look(board) != before, deed.action
            seen.add(deed.action)
            while len(board.screen_stack) > 1:
                board.pop_screen()
            await settle(pilot)
        _command(board, deed_of("leave").words)()
    assert len(seen) == len(DEEDS) - 2
    assert board.return_value == 0


async def test_typed_and_taken_in_the_list_itself() -> None:
    async with running(FakeFeed(NORMAL), (80, 24)) as (board, pilot):
        await press(pilot, "r")
        assert isinstance(board.screen, TrendScreen)
        await press(pilot, "m")
        await press(pilot, "alarms")
        await pilot.press("enter")
        await settle(pilot)
        assert isinstance(board.screen, AlarmsScreen)
        assert len(board.screen_stack) == 2
