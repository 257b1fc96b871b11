"""Account, tonight, trend, bank, devices: what they say, at every size, by plain keys alone."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from monitor.dashboard.actions import DEEDS
from monitor.dashboard.app import Dashboard
from monitor.dashboard.screens import devices as devices_screen
from monitor.dashboard.screens.now import NowScreen
from monitor.dashboard.screens.tonight import TonightScreen
from monitor.dashboard.screens.trend import TrendScreen
from monitor.engine.journal import MOVED
from monitor.engine.snapshot import Event, EventKind, Learned, Measured, Priority
from monitor.words.devices import Found
from monitor.words.tonight import Asked
from tests.monitor.dashboard.fake_feed import HOUSE, NORMAL, OFFSET, FakeFeed, FakePlayer, silent
from tests.monitor.dashboard.screen_text import SIZES, press, rows, running, settle, sized, text

SCREENS = [deed for deed in DEEDS if deed.screen]


@pytest.fixture(autouse=True)
def still(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same machine and the same questions in every test."""
    machine = Found((), ("can0",), ("modbus-rtu",))
    monkeypatch.setattr(devices_screen, "found", lambda: machine)
    monkeypatch.setattr(TonightScreen, "asked", Asked())


async def until(pilot: Pilot[int], seen: Callable[[], bool]) -> None:
    """Work of another thread arrives when it is done."""
    async with asyncio.timeout(20):
        while not seen():
            await settle(pilot)


def shown(board: Dashboard) -> str:
    """The text of the screen in one line, however it was wrapped."""
    return " ".join(text(board).split())


async def every_page(board: Dashboard, pilot: Pilot[int], pages: int = 8) -> str:
    seen = shown(board)
    for _ in range(pages):
        await press(pilot, "n")
        seen += " " + shown(board)
    return seen


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES, ids=sized)
@pytest.mark.parametrize("playing", [False, True])
async def test_every_screen_fits_every_size(size: tuple[int, int], playing: bool) -> None:
    """No row is wider than the terminal, the way back is in sight, and a playing capture's bar."""
    async with running(FakeFeed(NORMAL, FakePlayer() if playing else None), size) as (board, pilot):
        for deed in SCREENS:
            await press(pilot, deed.key)
            lines = rows(board)
            assert not isinstance(board.screen, NowScreen), deed.action
            assert len(lines) == size[1], deed.action
            assert max(map(len, lines)) <= size[0], deed.action
            assert "x back" in lines[-1], deed.action
            assert ("capture x60" in text(board)) is playing, deed.action
            await press(pilot, "x")
            assert isinstance(board.screen, NowScreen), deed.action


async def test_one_screen_takes_the_place_of_another_and_its_own_key_closes_it() -> None:
    async with running(FakeFeed(NORMAL), (60, 20)) as (board, pilot):
        await press(pilot, "u")
        assert "Account: house" in text(board)
        await press(pilot, "k")
        assert "Bank: house" in text(board)
        await press(pilot, "b")
        assert "Bank: winch" in text(board)
        await press(pilot, "k")
        assert isinstance(board.screen, NowScreen)
        assert len(board.screen_stack) == 1


# Account.


async def test_the_account_counts_the_computer_that_watches() -> None:
    feed = FakeFeed()
    (first, *rest) = feed.site.banks
    feed.site = replace(feed.site, banks=(replace(first, own_watts=6.0), *rest))
    async with running(feed, size=(80, 24)) as (board, pilot):
        await press(pilot, "u")
        assert "this computer: 6 W, 0.25 A, 6.0 Ah a day" in shown(board)


async def test_the_account_adds_up_and_shows_the_ac_side() -> None:
    async with running(FakeFeed(NORMAL), (80, 24)) as (board, pilot):
        await press(pilot, "u")
        said = shown(board)
    for words in (
        "shore 21 A 615 W 53 % of 40 A",
        "roof 2.8 A 80 W 8 % of 35 A",
        "together 24 A 695 W",
        "loads 5.7 A 165 W sources less bank",
        "bank +18 A +530 W into it",
        "Watts of roof by the volts at the posts.",
        "shore: 118 V, 5.9 A, 60.0 Hz",
    ):
        assert words in said, words


async def test_a_missing_source_leaves_no_sum() -> None:
    roof = replace(NORMAL.sources[1], amps=Measured(None, 300.0, "roof is silent, last 5 min ago"))
    house = replace(HOUSE, load_amps=Measured(None, None, "roof gives no current"))
    feed = FakeFeed(replace(NORMAL, banks=(house,), sources=(NORMAL.sources[0], roof)))
    async with running(feed, (80, 24)) as (board, pilot):
        await press(pilot, "u")
        said = shown(board)
    assert "roof -- -- roof is silent, last 5 min ago" in said
    assert "together -- -- no sum without roof" in said
    assert "loads -- -- roof gives no current" in said


async def test_figures_of_different_age_are_said_to_be() -> None:
    old = replace(NORMAL.sources[0], amps=Measured(21.3, 55.0))
    async with running(FakeFeed(replace(NORMAL, sources=(old, NORMAL.sources[1])))) as (b, pilot):
        await press(pilot, "u")
        assert "Read up to 50 s apart: the sum holds only if nothing was switched" in shown(b)


# Tonight.


async def test_tonight_answers_four_questions_each_with_its_interval() -> None:
    async with running(FakeFeed(NORMAL), (80, 24)) as (board, pilot):
        await press(pilot, "o")
        await until(pilot, lambda: "at dawn" in shown(board))
        said = await every_page(board, pilot, 2)
    for words in (
        "89 % at dawn (07:00 tomorrow), between 75 and 97 %",
        "20 min of generator to 90 %, between",
        "It pays to the end",
        "Quiet from 22:00: start by",
        "Yes, 1200 W for 30 min is possible",
        "Will the coming day's sun fill it?",
        "Caution: exhaust kills.",
    ):
        assert words in said, words


async def test_tonight_plans_nothing_while_the_shunt_is_silent() -> None:
    """Though the feed's own outlook is from before; once the shunt speaks it answers again."""
    feed = FakeFeed(NORMAL)
    async with running(feed, (80, 24)) as (board, pilot):
        await press(pilot, "o")
        await until(pilot, lambda: "at dawn" in shown(board))
        feed.put(silent(NORMAL, 7200.0, "no answer"))
        await until(pilot, lambda: "No answer to 1200 W" in shown(board))
        said = await every_page(board, pilot, 2)
        assert said.count("charge not known now, shunt is silent, last 2 h ago") >= 4
        assert "is possible" not in said
        assert "at dawn (" not in said
        known, feed.known = feed.known, replace(feed.known, unread="silent")
        feed.put(NORMAL)
        await settle(pilot)
        feed.known = known
        feed.put(replace(NORMAL, seconds=NORMAL.seconds + 1.0))
        await until(pilot, lambda: "at dawn (" in shown(board))


async def test_another_load_is_asked_about_on_a_telephone() -> None:
    async with running(FakeFeed(NORMAL), (40, 15)) as (board, pilot):
        await press(pilot, "o")
        await until(pilot, lambda: "at dawn" in shown(board))
        await press(pilot, "l")
        for typed in ("lots", "9 kW 2h"):
            board.screen.query_one(Input).value = typed
            await pilot.press("enter")
            await settle(pilot)
            asked_again = 'expected watts and minutes, as in 1200 W 30 min; found "lots"'
            assert (asked_again in shown(board)) is (typed == "lots")
        await until(pilot, lambda: "at dawn" in shown(board))
        assert "9000 W for 2 h" in await every_page(board, pilot)


async def test_tonight_without_a_reading_says_so() -> None:
    feed = FakeFeed(NORMAL)
    feed.known = None
    async with running(feed, (60, 20)) as (board, pilot):
        await press(pilot, "o")
        await until(pilot, lambda: "no reading of volts and amps yet" in shown(board))


# Trend.


def raised(seconds: float) -> Event:
    words = f"normal{MOVED}unacknowledged"
    return Event(9, seconds, EventKind.ALARM, "bank-hot", "house", Priority.HIGH, words)


async def test_the_cursor_tells_the_column_and_its_alarm() -> None:
    feed = FakeFeed(replace(NORMAL, last_event=9))
    feed.happened = (raised(99_500.0),)
    async with running(feed, (80, 24)) as (board, pilot):
        await press(pilot, "r")
        assert "12:28: 28.72 V, +18 A, 86 %, 18 °C, absorption" in shown(board)
        before = text(board)
        assert "!" in next(row for row in rows(board) if "alarms" in row)
        await press(pilot, "e")
        assert "!!! house: Bank too hot to charge" in shown(board)
        await press(pilot, "l")
        assert text(board) == before


@pytest.mark.parametrize("size", [(30, 10), (40, 15)], ids=sized)
async def test_the_cursor_tells_an_alarm_whole_on_a_small_screen(size: tuple[int, int]) -> None:
    feed = FakeFeed(replace(NORMAL, last_event=10))
    later = replace(raised(99_500.0), name="cells-apart", priority=Priority.LOW)
    feed.happened = (raised(99_500.0), later)
    async with running(feed, size) as (board, pilot):
        await press(pilot, "r")
        for _ in range(3):
            await press(pilot, "e")
            if "!!!" in shown(board):
                break
        owner = "house: " if size[0] >= 40 else ""
        assert f"!!! {owner}Bank too hot to charge +1" in shown(board)
        assert "absorption" in shown(board)


async def test_zoom_and_pan_by_letters() -> None:
    async with running(FakeFeed(NORMAL), (80, 24)) as (board, pilot):
        await press(pilot, "r")
        assert "Trend, 6 h" in text(board)
        await press(pilot, "o")
        assert "Trend, 12 h" in text(board)
        await press(pilot, "iii")
        assert "Trend, 1 h" in text(board)
        await press(pilot, "p")
        assert "Trend, 1 h, until 12:03" in text(board)
        await press(pilot, "nn")
        assert "until" not in rows(board)[1]
        screen = board.screen
        assert isinstance(screen, TrendScreen)
        asked = board.feed.trends_asked  # type: ignore[attr-defined]
        await press(pilot, "el")
        assert board.feed.trends_asked == asked, "a cursor needs no new trend"  # type: ignore[attr-defined]


async def test_set_points_stand_beside_the_scale() -> None:
    async with running(FakeFeed(NORMAL), (100, 30)) as (board, pilot):
        await press(pilot, "r")
        assert "f 27.0 V" in text(board)


# Bank.

LEARNED = (
    Learned("usable-capacity", "usable capacity", "Ah", 362.0, 11.0, 90_000.0, OFFSET),
    Learned("resistance", "the bank's own resistance", "mohm", 7.42, 0.31, 80_000.0, OFFSET),
    Learned("sensor-offset", "what the sensor shows", "A", 0.061, 0.03, 70_000.0, OFFSET),
    Learned("charge-efficiency", "share stored", "", 0.852, 0.019, None, None),
    Learned("load-by-hour/07", "usual load from 7:00 to 8:00 UTC", "W", 50.0, 9.0, 1.0, None),
)


async def test_what_was_learned_has_its_doubt_and_its_date() -> None:
    house = replace(HOUSE, learned=LEARNED)
    async with running(FakeFeed(replace(NORMAL, banks=(house,))), (80, 24)) as (board, pilot):
        await press(pilot, "k")
        said = await every_page(board, pilot, 3)
    for words in (
        "usable capacity: 360 Ah, give or take 20; 90 % of the 400 Ah rated learned 09:45",
        "resistance at 25 °C: 7.4 mΩ, give or take 0.6",
        "offset of the current sensor: 0.06 A, give or take 0.06",
        "share of the current that is stored: 85 %, give or take 4 assumed, not yet seen",
        "absorption: 29.22 V, give or take 0.10",
        "halves lie 100 mV apart",
    ):
        assert words in said, words
    assert "usual load" not in said


# Devices.


async def test_links_are_told_with_polls_losses_latency_and_the_last_error() -> None:
    feed = FakeFeed(silent(NORMAL, 190.0, "no answer at the port"))
    async with running(feed, (80, 24)) as (board, pilot):
        await press(pilot, "d")
        await until(pilot, lambda: "can0" in shown(board))
        said = shown(board)
    for words in (
        "shunt: SILENT for 3 min: no answer at the port",
        "5120 polls since the start, 3 lost",
        "an answer takes 42 ms, at worst 310 ms",
        "last error, 1 h 6 min ago: no answer within 1 s",
        "charger: answers, last reading just now",
        "no error",
        "none is plugged in",
        "modbus-rtu",
    ):
        assert words in said, words


async def test_looking_for_ports_never_holds_the_screen(monkeypatch: pytest.MonkeyPatch) -> None:
    """A look that does not come back: keys, figures and leaving go on."""
    held = threading.Event()
    looks: list[int] = []

    def slow() -> Found:
        looks.append(1)
        held.wait(30)
        return Found((), (), ("late",))

    monkeypatch.setattr(devices_screen, "found", slow)
    try:
        async with running(FakeFeed(NORMAL), (60, 20)) as (board, pilot):
            await press(pilot, "d")
            assert "Looking ..." in shown(board)
            await press(pilot, "x")
            assert isinstance(board.screen, NowScreen)
            await press(pilot, "d")
            held.set()
            await until(pilot, lambda: "late" in shown(board))
            assert len(looks) == 2
    finally:
        held.set()


# Looks, copy, save.


async def test_fahrenheit_and_a_clock_of_twelve_hours() -> None:
    async with running(FakeFeed(NORMAL), (80, 24)) as (board, pilot):
        await press(pilot, "fz")
        said = shown(board)
        assert "65 °F" in said
        assert "11:20 am" in said
        assert "3:10 pm" in said
        await press(pilot, "fz")
        assert "18 °C" in shown(board)
        assert "15:10" in shown(board)


async def test_a_screen_is_saved_as_text_and_picture_and_copied(tmp_path: Path) -> None:
    async with running(FakeFeed(NORMAL), (60, 20), folder=tmp_path / "kept") as (board, pilot):
        await press(pilot, "u")
        page = text(board)
        await press(pilot, "e")
        assert board.clipboard.rstrip() == page.rstrip()
        await press(pilot, "ss")
        saved = sorted((tmp_path / "kept").glob("*.txt"))
        assert len(saved) == 2
        assert "together" in saved[0].read_text(encoding="utf-8")
        pictures = [path.with_suffix(".svg").read_text(encoding="utf-8") for path in saved]
        assert all(each.startswith("<svg") and "together" in each for each in pictures)


async def test_a_folder_that_refuses_is_told_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    async with running(FakeFeed(NORMAL), folder=tmp_path / "file" / "kept") as (board, pilot):
        await press(pilot, "s")
        messages = [note.message for note in board._notifications]
    assert len(messages) == 1
    assert messages[0].startswith("Not saved: ")
    assert "\n" not in messages[0]


# The log.


async def test_what_was_done_by_hand_is_entered_in_the_journal() -> None:
    feed = FakeFeed()
    async with running(feed, (40, 15)) as (board, pilot):
        await press(pilot, "jl")
        assert "gravity 1.265 1.26 at 18C" in shown(board)  # the example stands in the line
        board.screen.query_one(Input).value = "gravity 1.265 1.240 at 15C"
        await settle(pilot)
        assert "gravity 1.265 1.240 at 15C" in shown(board)  # and what is typed is seen
        await pilot.press("enter")
        await settle(pilot)
    assert [(each.target, each.note) for each in feed.sent] == [
        ("house#1:specific_gravity", "1.265 at 15 °C, 1.258 at 25 °C"),
        ("house#2:specific_gravity", "1.240 at 15 °C, 1.233 at 25 °C"),
    ]


async def test_a_slip_in_an_entry_is_asked_again_with_what_was_typed() -> None:
    feed = FakeFeed()
    async with running(feed, (80, 24)) as (board, pilot):
        await press(pilot, "jl")
        board.screen.query_one(Input).value = "water a lot"
        await pilot.press("enter")
        await settle(pilot)
        assert "water: expected 0.001 to 50 L" in shown(board)
        assert board.screen.query_one(Input).value == "water a lot"
        await pilot.press("escape")
        await settle(pilot)
        assert "What happened" in shown(board)
    assert feed.sent == []
