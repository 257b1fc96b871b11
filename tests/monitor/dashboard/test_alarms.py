"""Alarms on the screens: the line on every one of them, and what can be done by plain letters."""

from __future__ import annotations

from dataclasses import replace

import pytest

from adapters.reading import Action
from monitor.dashboard.actions import DEEDS
from monitor.dashboard.app import Dashboard
from monitor.dashboard.screens.alarms import AlarmsScreen
from monitor.dashboard.screens.ask import AskScreen
from monitor.dashboard.screens.journal import JournalScreen
from monitor.engine.snapshot import (
    AlarmState,
    Event,
    EventKind,
    Handled,
    Priority,
)
from tests.monitor.dashboard.fake_feed import HOT, LOW, NORMAL, FakeFeed
from tests.monitor.dashboard.screen_text import (
    SMALLEST,
    press,
    rows,
    running,
    settle,
    sized,
    text,
)

ALARMED = replace(NORMAL, alarms=(HOT, LOW))
SMALL = (40, 15)


@pytest.mark.parametrize("size", SMALLEST, ids=sized)
async def test_the_alarm_line_is_on_every_screen(size: tuple[int, int]) -> None:
    feed = FakeFeed(ALARMED)
    async with running(feed, size) as (board, pilot):
        for key in ("", *(deed.key for deed in DEEDS if deed.screen and deed.action != "alarms")):
            feed.put(ALARMED)
            await press(pilot, key)
            top = rows(board)[0]
            assert "!!! HIGH" in top or size[0] < 60, key
            assert top.startswith(" !!! "), key
            assert "+1" in top, key
            assert "°C" in top or "Bank too hot to charge (new)" in top, key
            feed.put(NORMAL)
            await settle(pilot)
            assert rows(board)[0].strip().startswith("no alarm"), key


async def test_the_alarm_screen_says_it_in_its_heading() -> None:
    async with running(FakeFeed(ALARMED), SMALL) as (board, pilot):
        await press(pilot, "a")
        assert rows(board)[0].strip() == "Alarms: 2, 1 not yet seen"


async def test_the_cautions_at_the_start_have_the_line_too() -> None:
    async with running(FakeFeed(ALARMED), SMALL, show_cautions=True) as (board, pilot):
        await settle(pilot)
        assert rows(board)[0] == " !!! Bank too hot to charge (new) +1"


def sent(feed: FakeFeed) -> list[tuple[Action, str, str]]:
    return [(command.action, command.target, command.note) for command in feed.sent]


@pytest.mark.parametrize("size", SMALLEST, ids=sized)
async def test_shelve_asks_how_long_and_sends_the_seconds(size: tuple[int, int]) -> None:
    feed = FakeFeed(ALARMED)
    async with running(feed, size) as (board, pilot):
        await press(pilot, "as")
        asked = " ".join(text(board).split())
        assert "Shelve for: 1 hour 8 hours 2 days c until it clears x no" in asked
        await press(pilot, "1")
        assert "Shelve for:" not in text(board)
        await press(pilot, "s8s2sc")
        await press(pilot, "sx")  # not after all
        assert isinstance(board.screen, AlarmsScreen)
        await press(pilot, "1")  # without a question a digit does nothing
    assert sent(feed) == [
        (Action.SHELVE, "house:bank-hot", "3600"),
        (Action.SHELVE, "house:bank-hot", "28800"),
        (Action.SHELVE, "house:bank-hot", "172800"),
        (Action.SHELVE, "house:bank-hot", ""),
    ]


@pytest.mark.parametrize("size", SMALLEST, ids=sized)
async def test_out_of_service_asks_first(size: tuple[int, int]) -> None:
    feed = FakeFeed(ALARMED)
    async with running(feed, size) as (board, pilot):
        await press(pilot, "ano")
        asked = " ".join(text(board).split())
        assert "Out of service until brought back? y yes x no" in asked
        await press(pilot, "x")
        assert feed.sent == []
        await press(pilot, "oy")
    assert sent(feed) == [(Action.OUT_OF_SERVICE, "house:halves-apart", "")]


async def test_the_question_stays_with_its_alarm_when_a_worse_one_comes() -> None:
    feed = FakeFeed(replace(NORMAL, alarms=(LOW,)))
    async with running(feed, SMALL) as (_, pilot):
        await press(pilot, "ao")
        feed.put(ALARMED)
        await settle(pilot)
        await press(pilot, "y")
    assert sent(feed) == [(Action.OUT_OF_SERVICE, "house:halves-apart", "")]


@pytest.mark.parametrize("size", SMALLEST, ids=sized)
async def test_a_note_goes_with_the_next_thing_done_and_only_with_that(
    size: tuple[int, int],
) -> None:
    feed = FakeFeed(ALARMED)
    async with running(feed, size) as (board, pilot):
        await press(pilot, "ae")
        assert isinstance(board.screen, AskScreen)
        assert "Note, kept with Enter:" in text(board)
        await pilot.press(*"fan on q", "enter")
        await settle(pilot)
        assert "Note: fan on q" in text(board)
        await press(pilot, "k")
        assert "Note:" not in text(board)
        await press(pilot, "e")
        await pilot.press(*"later", "enter")
        await settle(pilot)
        await press(pilot, "s1r")
    assert sent(feed) == [
        (Action.ACKNOWLEDGE, "house:bank-hot", "fan on q"),
        (Action.SHELVE, "house:bank-hot", "3600 later"),
        (Action.RESET, "house:bank-hot", ""),
    ]


async def test_an_empty_note_is_none_and_esc_keeps_what_was_there() -> None:
    feed = FakeFeed(ALARMED)
    async with running(feed, SMALL) as (_, pilot):
        await press(pilot, "ae")
        await pilot.press(*"one", "enter")
        await settle(pilot)
        await press(pilot, "e")
        await pilot.press(*" two", "escape")
        await settle(pilot)
        await press(pilot, "k")
        await press(pilot, "e")
        await pilot.press("enter")
        await settle(pilot)
        await press(pilot, "k")
    assert [note for _, _, note in sent(feed)] == ["one", ""]


@pytest.mark.parametrize(
    ("state", "action"),
    [
        (AlarmState.SHELVED, Action.UNSHELVE),
        (AlarmState.OUT_OF_SERVICE, Action.IN_SERVICE),
        (AlarmState.SUPPRESSED, None),
        (AlarmState.UNACKNOWLEDGED, None),
    ],
)
async def test_what_was_set_aside_is_brought_back(state: AlarmState, action: Action | None) -> None:
    feed = FakeFeed(replace(NORMAL, alarms=(replace(HOT, state=state),)))
    async with running(feed, SMALL) as (_, pilot):
        await press(pilot, "ab")
    assert [each for each, _, _ in sent(feed)] == ([action] if action else [])


async def seen(board: Dashboard, pilot: object, pages: int = 6) -> str:
    """Everything the text below the list holds, page by page."""
    found = text(board)
    for _ in range(pages):
        await press(pilot, "d")  # type: ignore[arg-type]
        found += "\n" + text(board)
    return " ".join(found.split())


async def test_all_there_is_to_know_can_be_read_on_a_telephone() -> None:
    told = replace(
        HOT,
        first_up=True,
        chattering=True,
        explained_by="house:thermal-runaway",
        handled=Handled(99_500.0, "ann", "acknowledge", "fan on"),
    )
    async with running(FakeFeed(replace(NORMAL, alarms=(told,))), SMALL) as (board, pilot):
        await press(pilot, "a")
        words = await seen(board, pilot)
    for part in (
        "New, since",
        "Follows from house:thermal-runaway",
        "Came first of those that stand",
        "Comes and goes",
        "Seen by ann at",
        ": fan on",
        "Why: 51 °C for 3 min, limit 50 °C",
        "Caution: hot electrolyte",
        "First: stop charging",
        "May be: ventilation blocked",
    ):
        assert part in words, part


async def test_the_first_of_several_is_marked_in_the_list() -> None:
    first = replace(LOW, first_up=True)
    async with running(FakeFeed(replace(NORMAL, alarms=(HOT, first))), (80, 24)) as (board, pilot):
        await press(pilot, "a")
        marked = [row for row in rows(board) if row.endswith(", first)")]
        assert len(marked) == 1
        assert "half-bank" in marked[0]


# The journal.

EVENTS = (
    Event(1, 90_000.0, EventKind.STAGE, "bulk", "house", Priority.NONE, "rest -> bulk"),
    Event(
        2,
        99_400.0,
        EventKind.ALARM,
        "bank-hot",
        "house",
        Priority.HIGH,
        "normal -> unacknowledged",
    ),
    Event(
        3,
        99_500.0,
        EventKind.COMMAND,
        "acknowledge",
        "house:bank-hot",
        Priority.NONE,
        "ann: fan on",
    ),
)


class Remembering(FakeFeed):
    def events(self, since: int) -> tuple[Event, ...]:
        return tuple(event for event in EVENTS if event.number > since)


@pytest.mark.parametrize("way", ["j", "aj"])
async def test_the_journal_has_the_newest_first(way: str) -> None:
    async with running(Remembering(replace(ALARMED, last_event=3)), (80, 24)) as (board, pilot):
        await press(pilot, way)
        assert isinstance(board.screen, JournalScreen)
        shown = [row.strip() for row in rows(board)]
        start = next(n for n, row in enumerate(shown) if "acknowledge" in row)
        assert shown[start].endswith("done acknowledge house:bank-hot, ann: fan on")
        assert shown[start + 1].endswith(
            "alarm !!! house: Bank too hot to charge: normal to unacknowledged"
        )
        assert shown[start + 2].endswith("stage house: rest to bulk")
        await press(pilot, "x")
        assert not isinstance(board.screen, JournalScreen)


async def test_an_empty_journal_says_so() -> None:
    async with running(FakeFeed(NORMAL), SMALL) as (board, pilot):
        await press(pilot, "j")
        assert "Nothing yet." in text(board)


# The bell.


@pytest.mark.parametrize("wanted", [False, True])
async def test_the_bell_rings_once_for_each_new_alarm_and_only_where_wanted(
    wanted: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    rung: list[int] = []
    monkeypatch.setattr(Dashboard, "bell", lambda _: rung.append(1))
    feed = FakeFeed(NORMAL)
    chatter = replace(HOT, name="flap", chattering=True)
    async with running(feed, SMALL, bell=wanted) as (_, pilot):
        for snapshot in (
            replace(NORMAL, alarms=(HOT,)),
            replace(NORMAL, alarms=(HOT, LOW)),  # LOW is acknowledged: no news
            replace(NORMAL, alarms=(replace(HOT, state=AlarmState.RETURNED), LOW)),
            replace(NORMAL, alarms=(chatter, LOW)),
            NORMAL,
            replace(NORMAL, alarms=(HOT,)),
        ):
            feed.put(snapshot)
            await settle(pilot)
    assert len(rung) == (2 if wanted else 0)
