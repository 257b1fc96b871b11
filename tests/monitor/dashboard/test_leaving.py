"""Whatever is typed at once with the key that leaves, the program leaves, and says nothing."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from textual import events
from textual.screen import Screen

from monitor.dashboard.app import Dashboard
from tests.monitor.dashboard.fake_feed import NORMAL, FakeFeed, FakePlayer
from tests.monitor.dashboard.pseudo_terminal import terminal
from tests.monitor.dashboard.screen_text import running, settle

#: What a person or a clipboard may send in one go.
TYPED = "abcdefghijklmnopqrstuvwxyz0123456789 \r\t/"


def typed_at_once(board: Dashboard, keys: str) -> None:
    """All of them into the queue before any is looked at, as they come from a terminal."""
    for key in keys:
        board.post_message(events.Key(key, key))


@pytest.mark.parametrize("keys", ["qu", "qo", "qw", "q9", "qhhhh", "qm", "qy", "qe", "qa2ro"])
async def test_nothing_opens_after_the_key_that_leaves(
    keys: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[object] = []
    push = Dashboard.push_screen

    def pushed(board: Dashboard, screen: Screen[object], *rest: object, **more: object) -> object:
        opened.append(screen)
        return push(board, screen, *rest, **more)  # type: ignore[call-overload]

    async with running(FakeFeed(NORMAL, FakePlayer())) as (board, pilot):
        monkeypatch.setattr(Dashboard, "push_screen", pushed)
        typed_at_once(board, keys)
        await settle(pilot)
    assert board.return_value == 0
    assert board.return_code == 0
    assert opened == []


@pytest.mark.parametrize("keys", ["uq", "hq", "aq", "oq", "rq", "dq", "ouq"])
async def test_a_screen_half_made_is_left_in_silence(keys: str) -> None:
    async with running(FakeFeed(NORMAL, FakePlayer())) as (board, pilot):
        typed_at_once(board, keys)
        await settle(pilot)
    assert board.return_value == 0
    assert board.return_code == 0


async def test_a_command_chosen_after_leaving_does_nothing() -> None:
    async with running(FakeFeed(NORMAL)) as (board, pilot):
        board.exit(0)
        before = len(board.screen_stack)
        board.do("u")
        assert len(board.screen_stack) <= before
        await settle(pilot)
    assert board.return_code == 0


def leaves_quietly(folder: Path, keys: str) -> None:
    folder.mkdir()
    with terminal(folder) as board:
        assert b"no alarm" in board.read(20, until=b"no alarm")
        board.read(0.3)  # until keys are read
        board.type(keys.encode())
        code, said, sent = board.wait()
    assert (code, said) == (0, "feed stopped"), repr(keys)
    assert b"Traceback" not in sent, repr(keys)
    assert b"Error" not in sent, repr(keys)
    assert b"NoMatches" not in sent, repr(keys)


def test_typed_into_a_real_terminal(tmp_path: Path) -> None:
    leaves_quietly(tmp_path / "one", "quo")


@pytest.mark.slow
def test_whatever_is_typed_into_a_real_terminal(tmp_path: Path) -> None:
    dice = random.Random(20)
    for number in range(20):
        keys = "q" + "".join(dice.choices(TYPED, k=dice.randint(1, 6)))
        before = dice.choice(("", "u", "o", "h", "d"))
        leaves_quietly(tmp_path / str(number), before + keys)
