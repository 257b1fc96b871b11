"""Which bank is in view at every size, and a way back by plain letters from wherever letters are
text."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC

import pytest
from textual.widgets import Input

from monitor.bank import Site
from monitor.dashboard.app import Dashboard
from monitor.dashboard.screens.now import NowScreen
from monitor.dashboard.screens.safety import SafetyScreen
from tests.monitor.dashboard.fake_feed import HOT, HOUSE, NORMAL, SITE, WINCH, FakeFeed, FakePlayer
from tests.monitor.dashboard.screen_text import press, rows, running, settle, text

SMALL = ((30, 10), (40, 15), (60, 20), (80, 24))
LONG = "forward-house-bank-under-the-bunk"


def two_long() -> FakeFeed:
    """Two banks, the first of a name that no small screen holds."""
    feed = FakeFeed(replace(NORMAL, banks=(replace(HOUSE, id=LONG), WINCH)))
    feed.site = Site((replace(SITE.banks[0], id=LONG), SITE.banks[1]), ())
    return feed


@pytest.mark.parametrize("size", SMALL)
async def test_which_bank_it_shows_is_told_at_every_size(size: tuple[int, int]) -> None:
    for alarms in ((), (HOT,)):
        feed = FakeFeed(replace(NORMAL, alarms=alarms))
        async with running(feed, size) as (board, pilot):
            first = text(board).replace("house: Bank too hot", "")
            assert "house" in first
            assert "b next" in rows(board)[-1]
            await press(pilot, "b")
            assert "winch" in text(board)


@pytest.mark.parametrize("size", SMALL)
async def test_of_a_long_name_its_beginning_is_told(size: tuple[int, int]) -> None:
    async with running(two_long(), size) as (board, pilot):
        assert LONG[:6] in text(board)
        for key in "ugo":
            await press(pilot, key)
            assert LONG[:6] in text(board), key
            await press(pilot, "x")


async def test_one_bank_alone_needs_no_name_on_its_stage() -> None:
    feed = FakeFeed(replace(NORMAL, banks=(HOUSE,)))
    feed.site = Site(SITE.banks[:1], SITE.sources)
    async with running(feed, (40, 15)) as (board, _):
        assert "house" not in text(board)
        assert "b next" not in rows(board)[-1]


# A way back where letters are text.


async def typed(pilot: object, board: Dashboard, words: str) -> None:
    board.screen.query_one(Input).value = words
    await settle(pilot)  # type: ignore[arg-type]


@pytest.mark.parametrize("keys", ["9", "ol", "ov", "jl"])
async def test_an_empty_line_leaves_a_prompt_and_says_so(keys: str) -> None:
    feed = FakeFeed(NORMAL, FakePlayer())
    async with running(feed, (40, 15)) as (board, pilot):
        await press(pilot, keys)
        assert board.screen.query(Input)
        assert "Enter alone: back" in text(board)
        await pilot.press("enter")
        await settle(pilot)
        assert not board.screen.query(Input)
    assert feed.sent == []
    assert feed.player is not None
    assert feed.player.position == 100_000.0


@pytest.mark.parametrize("words", ["", "x"])
async def test_the_list_of_commands_closes_by_enter_alone_and_by_the_letter(words: str) -> None:
    async with running(FakeFeed(NORMAL), (40, 15)) as (board, pilot):
        await press(pilot, "m")
        await pilot.app.workers.wait_for_complete()
        await settle(pilot)
        assert "Enter alone: back" in text(board)
        before = (board.theme, board.signs, board.window_seconds)
        await press(pilot, words)
        for _ in range(20):
            if "close this list" in text(board).splitlines()[2]:
                break
            await pilot.pause(0.05)
        await pilot.press("enter")
        await settle(pilot)
        await settle(pilot)
        assert isinstance(board.screen, NowScreen)
        assert (board.theme, board.signs, board.window_seconds) == before
    assert board.return_value is None


async def test_cautions_not_read_yet_are_left_by_the_same_letter() -> None:
    read: list[bool] = []
    options = {"show_cautions": True, "on_cautions_read": lambda: read.append(True)}
    async with running(FakeFeed(NORMAL), (40, 15), **options) as (board, pilot):
        assert "x quit" in rows(board)[-1]
        await press(pilot, "x")
    assert read == []
    assert board.return_value == 0


async def test_cautions_looked_at_again_are_left_by_the_same_letter() -> None:
    async with running(FakeFeed(NORMAL), (40, 15)) as (board, pilot):
        await press(pilot, "y")
        assert isinstance(board.screen, SafetyScreen)
        assert "x back" in rows(board)[-1]
        await press(pilot, "x")
        assert isinstance(board.screen, NowScreen)
    assert board.return_value is None


# Refused, it says why; and nothing covers the figures.


@pytest.mark.parametrize(
    ("keys", "words", "why"),
    [
        ("ol", "0 W 10 min", "expected more than 0 W"),
        ("ol", "0 W", "expected more than 0 W"),
        ("ol", "9999999 W", "expected at most 100000 W"),
        ("ol", "kettle", "expected watts and minutes"),
        ("ov", "0%", "expected more than 0 %"),
        ("9", "yesterday", "yesterday"),
    ],
)
async def test_what_is_refused_is_asked_again_with_why(
    keys: str, words: str, why: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    noticed: list[object] = []
    monkeypatch.setattr(Dashboard, "notify", lambda *told, **_: noticed.append(told))
    feed = FakeFeed(NORMAL, FakePlayer())
    async with running(feed, (40, 15)) as (board, pilot):
        await press(pilot, keys)
        for more in ("", " ?", " ??"):
            await typed(pilot, board, words + more)
            await pilot.press("enter")
            await settle(pilot)
            told = " ".join(text(board).split())
            assert more or why in told
            assert f'"{words}{more}"' in told
            assert "Enter, unchanged: back" in told
        await pilot.press("enter")
        await settle(pilot)
        assert not board.screen.query(Input)
        assert why not in text(board)
    assert noticed == []


async def test_one_notice_at_a_time() -> None:
    board = Dashboard(FakeFeed(NORMAL), zone=UTC)
    async with board.run_test(size=(40, 15), notifications=True) as pilot:
        await settle(pilot)
        for number in range(5):
            board.notify(f"notice {number} of some words that fill a row of a small screen")
        for _ in range(20):
            await settle(pilot)
            shown = text(board)
            if "notice 4" in shown:
                break
        assert "notice 4" in shown
        assert "notice 3" not in shown
        covered = [row for row in rows(board) if "notice" in row or "small screen" in row]
        assert len(covered) <= 2
        assert all(each.timeout <= 5.0 for each in board._notifications)
