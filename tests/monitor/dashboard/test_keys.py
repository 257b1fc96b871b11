"""Everything by single plain letters and digits, on a telephone's screen and on a large one."""

from __future__ import annotations

import asyncio
import math
import re
from dataclasses import replace

import pytest
from textual.widgets import Input

from adapters.reading import Action
from monitor.dashboard.actions import DEEDS, Deed, hints
from monitor.dashboard.app import Dashboard
from monitor.dashboard.screens.alarms import AlarmsScreen
from monitor.dashboard.screens.explain import ExplainScreen
from monitor.dashboard.screens.glance import GlanceScreen
from monitor.dashboard.screens.help import HelpScreen
from monitor.dashboard.screens.now import NowScreen
from monitor.dashboard.screens.safety import SafetyScreen
from monitor.dashboard.themes import THEME_NAMES
from monitor.dashboard.widgets.hints import fitting
from monitor.engine.snapshot import Event, EventKind, Priority
from monitor.words.keys import EVERYWHERE
from tests.monitor.dashboard.fake_feed import HOT, LOW, NORMAL, FakeFeed, FakePlayer
from tests.monitor.dashboard.screen_text import SIZES, press, rows, running, settle, sized, text


def test_keys_are_single_plain_signs_and_differ() -> None:
    keys = [deed.key for deed in DEEDS]
    assert all(re.fullmatch("[a-z0-9]", key) for key in keys)
    assert len(set(keys)) == len(keys)
    assert all(deed.screen or hasattr(Dashboard, f"action_{deed.action}") for deed in DEEDS)
    # Digits drive a capture and nothing else does; so no letter means two things.
    assert all(deed.key.isdecimal() is deed.replay for deed in DEEDS)


def test_every_key_has_its_words_and_no_words_are_left_over() -> None:
    """Who adds a screen adds a row to EVERYWHERE (monitor/words/keys.py); this finds a missing one,
    and so does the program, in one line that names the table."""
    assert {deed.action for deed in DEEDS} == set(EVERYWHERE)
    with pytest.raises(
        LookupError, match='add a row "weather" to EVERYWHERE in monitor/words/keys'
    ):
        assert Deed("y", "weather", 3, screen="weather:WeatherScreen").hint


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES, ids=sized)
async def test_walk_through_every_screen_by_letters(size: tuple[int, int]) -> None:
    alarmed = replace(NORMAL, alarms=(HOT, LOW))
    async with running(FakeFeed(alarmed), size) as (board, pilot):
        for key, screen, words in (
            ("h", HelpScreen, "Keys"),
            ("a", AlarmsScreen, "Alarms: 2, 1 not yet seen"),
            ("w", ExplainScreen, "Why each figure is as it is"),
            ("g", GlanceScreen, "87 % charged, give or take 3"),
        ):
            await press(pilot, key)
            assert isinstance(board.screen, screen)
            assert words[:27] in text(board)
            assert "x back" in rows(board)[-1]
            await press(pilot, "x")
            assert isinstance(board.screen, NowScreen)
        await press(pilot, "q")
    assert board.return_value == 0


@pytest.mark.parametrize("key", [pytest.param("h", marks=pytest.mark.slow), "w"])
async def test_pages_turn_by_letters_to_the_end(key: str) -> None:
    async with running(FakeFeed(NORMAL), (40, 15)) as (board, pilot):
        await press(pilot, key)
        seen = text(board)
        for _ in range(12):
            await press(pilot, "n")
            seen += text(board)
        last = {"h": "are times without a reading", "w": "charger: answers"}[key]
        assert last in " ".join(seen.split())
        await press(pilot, "p" * 12)
        assert rows(board)[1].strip() in ("Help", "Why each figure is as it is")


async def test_an_alarm_is_acknowledged_by_its_key() -> None:
    feed = FakeFeed(replace(NORMAL, alarms=(HOT, LOW)))
    async with running(feed, (60, 20)) as (board, pilot):
        await press(pilot, "a")
        shown = text(board)
        assert "> !!! HIGH   house: Bank too hot to charge (new)" in shown
        assert "Caution: hot electrolyte" in shown
        assert shown.index("Caution:") < shown.index("First:")
        await press(pilot, "k")
        await press(pilot, "nr")
    acknowledged, reset = feed.sent
    assert (acknowledged.action, acknowledged.target) == (Action.ACKNOWLEDGE, "house:bank-hot")
    assert (reset.action, reset.target) == (Action.RESET, "house:halves-apart")


async def test_the_alarm_list_keeps_its_place_while_alarms_come() -> None:
    feed = FakeFeed(replace(NORMAL, alarms=(LOW,)))
    async with running(feed, (60, 20)) as (board, pilot):
        await press(pilot, "ak")
        feed.put(replace(NORMAL, alarms=(HOT, LOW)))
        await settle(pilot)
        await press(pilot, "np")
        assert [command.target for command in feed.sent] == ["house:halves-apart"]
        assert "Alarms: 2" in text(board)


async def test_cautions_are_shown_once_before_anything_else() -> None:
    read: list[bool] = []
    feed = FakeFeed(NORMAL)
    options = {"show_cautions": True, "on_cautions_read": lambda: read.append(True)}
    async with running(feed, (40, 15), **options) as (board, pilot):
        assert isinstance(board.screen, SafetyScreen)
        assert "no proof that a circuit is dead" in text(board).replace("\n", " ").replace(
            "  ", " "
        )
        assert read == []
        await press(pilot, "n" * 4 + "y")
        assert isinstance(board.screen, NowScreen)
        assert read == [True]
        assert "no alarm" in text(board)
        await press(pilot, "y")
        assert isinstance(board.screen, SafetyScreen)
        await press(pilot, "y")
    assert read == [True]


async def test_cautions_unread_are_not_remembered() -> None:
    read: list[bool] = []
    options = {"show_cautions": True, "on_cautions_read": lambda: read.append(True)}
    async with running(FakeFeed(NORMAL), **options) as (board, pilot):
        await press(pilot, "q")
    assert read == []
    assert board.return_value == 0


async def test_one_key_cycles_the_four_themes() -> None:
    async with running(FakeFeed(NORMAL)) as (board, pilot):
        seen = [board.theme]
        for _ in range(4):
            await press(pilot, "t")
            seen.append(board.theme)
            assert "no alarm" in text(board)
    assert tuple(seen) == (*THEME_NAMES, THEME_NAMES[0])


async def test_charts_in_plain_letters_by_one_key() -> None:
    async with running(FakeFeed(NORMAL)) as (board, pilot):
        await press(pilot, "i")
        shown = text(board)
    assert not re.search("[▀-▟─-╿]", shown)
    assert "87 %" in shown
    assert "=====" in shown
    assert "##" in shown


async def test_hours_of_the_trend_by_one_key() -> None:
    async with running(FakeFeed(NORMAL)) as (board, pilot):
        windows = [board.window_seconds]
        for _ in range(4):
            await press(pilot, "v")
            windows.append(board.window_seconds)
    assert len(set(windows)) == 4
    assert windows[0] == windows[4]


async def test_the_player_by_letters_and_digits() -> None:
    player = FakePlayer()
    async with running(FakeFeed(NORMAL, player), (60, 20)) as (board, pilot):
        await press(pilot, "1")
        assert player.paused
        assert "capture paused" in text(board)
        await press(pilot, "133")
        assert not player.paused
        assert player.rate == 1200.0
        await press(pilot, "2")
        assert player.rate == 300.0
        await press(pilot, "5")
        assert player.paused
        assert player.steps == 1
        await press(pilot, "6")
        assert player.position == 100_601.0
        await press(pilot, "4")
        assert player.position == 100_001.0
        await press(pilot, "04")
        assert player.position == player.start


async def test_a_capture_goes_to_the_time_that_is_typed() -> None:
    player = FakePlayer()
    snapshot = replace(NORMAL, wall_offset=1_777_971_600.0 - 1_000.0)
    places = {"50%": 129_600.0, "2h": 7_200.0, "33:05:00": 119_100.0, "09:00": 1_000.0}
    async with running(FakeFeed(snapshot, player), (40, 15)) as (board, pilot):
        for typed, place in places.items():
            await press(pilot, "9")
            assert "Go to, with Enter:" in text(board)
            board.screen.query_one(Input).value = typed
            await pilot.press("enter")
            await settle(pilot)
            assert player.position == place, typed
            assert isinstance(board.screen, NowScreen)


async def test_a_time_that_is_none_is_answered_in_words() -> None:
    player = FakePlayer()
    async with running(FakeFeed(NORMAL, player), (60, 20)) as (board, pilot):
        await press(pilot, "9")
        board.screen.query_one(Input).value = "noonish"
        await pilot.press("enter")
        await settle(pilot)
        assert player.position == 100_000.0
        told = " ".join(text(board).split())
        assert (
            "expected seconds, 90m, HH:MM:SS from its start, HH:MM, a date and time, or end; "
            'found "noonish"'
        ) in told
        assert board.screen.query_one(Input).value == "noonish"


def happening(number: int, seconds: float, kind: EventKind = EventKind.STAGE) -> Event:
    return Event(number, seconds, kind, "float", "house", Priority.NONE, "float")


async def test_events_are_jumped_to_and_the_capture_stands_there() -> None:
    """What is ahead is not known: it is played to, then gone back to exactly."""
    player = FakePlayer()
    feed = FakeFeed(replace(NORMAL, last_event=2), player)
    feed.happened = (happening(1, 50_000.0), happening(2, 99_000.0))
    async with running(feed, (60, 20)) as (board, pilot):
        await press(pilot, "7")
        assert (player.position, player.paused) == (99_000.0, True)
        await press(pilot, "8")
        assert not player.paused
        assert player.rate == math.inf
        feed.happened += (happening(3, 110_000.0, EventKind.LEARNED),)
        feed.put(replace(NORMAL, seconds=112_000.0, last_event=3))
        await settle(pilot)
        assert not player.paused, "what was learned is not worth a stop"
        feed.happened += (happening(4, 120_000.0),)
        feed.put(replace(NORMAL, seconds=130_000.0, last_event=4))
        await settle(pilot)
        assert (player.position, player.paused, player.rate) == (120_000.0, True, 60.0)
        assert board.snapshot is not None


async def test_a_finished_capture_goes_on_after_a_jump() -> None:
    feed = FakeFeed(NORMAL, FakePlayer())
    async with running(feed) as (board, pilot):
        feed.end()
        await settle(pilot)
        assert "28.72" in text(board)
        await press(pilot, "4")
        feed.put(replace(NORMAL, seconds=90_000.0, alarms=(HOT,)))
        await settle(pilot)
        assert "!!! HIGH" in text(board)


async def test_a_far_jump_is_said_to_be_on_its_way() -> None:
    """Until the figures are those of the place jumped to, the bar does not claim that they are;
    a hole in the capture, where nothing is due, is no jump."""
    player = FakePlayer()
    feed = FakeFeed(NORMAL, player)
    async with running(feed, (60, 20)) as (board, pilot):
        assert "getting there" not in text(board)
        player.catching_up = True
        await press(pilot, "666")
        assert "getting there 98 %" in text(board)
        feed.put(replace(NORMAL, seconds=0.4 * player.position))
        await settle(pilot)
        assert "getting there 40 %" in text(board)
        feed.put(replace(NORMAL, seconds=player.position - 1.0))
        await settle(pilot)
        assert "getting there" not in text(board)
        player.catching_up = False
        await press(pilot, "6")
        assert "getting there" not in text(board)


async def test_player_keys_do_nothing_when_live() -> None:
    async with running(FakeFeed(NORMAL)) as (board, pilot):
        before = text(board)
        await press(pilot, "1234567890")
        assert text(board) == before


async def test_the_list_of_commands_is_left_without_esc_whatever_was_typed() -> None:
    """Letters go into its search; Enter takes what is offered, and a way out always is."""
    async with running(FakeFeed(NORMAL), (60, 20)) as (board, pilot):
        before = text(board)
        await press(pilot, "mqxzvh")
        async with asyncio.timeout(10):
            while "close this list" not in text(board):
                await settle(pilot)
        await pilot.press("enter")
        await settle(pilot)
        assert text(board) == before


async def test_every_action_is_in_the_list_of_commands() -> None:
    async with running(FakeFeed(NORMAL, FakePlayer())) as (board, pilot):
        listed = {command.title for command in board.get_system_commands(board.screen)}
        for deed in DEEDS:
            if deed.action != "commands":
                assert deed.words in listed
        await press(pilot, "m")
        assert not isinstance(board.screen, NowScreen)
        await press(pilot, "alarms")
        await pilot.press("enter")
        await settle(pilot)
        assert isinstance(board.screen, AlarmsScreen)


def test_hints_drop_the_least_important_first() -> None:
    offered = hints(playing=True, banks=2)
    for width in range(100, 5, -1):
        kept = fitting(offered, width)
        dropped = [hint for hint in offered if hint not in kept]
        assert sum(len(f"{key} {word}  ") for key, word, _ in kept) - 2 <= width
        if kept and dropped:
            assert max(rank for *_, rank in kept) < min(rank for *_, rank in dropped)
    assert [key for key, *_ in fitting(offered, 20)] == ["q", "h"]
    assert not any(key.isdecimal() for key, *_ in hints(playing=False, banks=1))


async def test_ctrl_c_names_our_own_key() -> None:
    """The library's own hint would name a key that nothing here uses."""
    async with running(FakeFeed(NORMAL), (80, 24)) as (board, pilot):
        await pilot.press("ctrl+c")
        await pilot.pause()
        assert [note.message for note in board._notifications] == ["q leaves"]
