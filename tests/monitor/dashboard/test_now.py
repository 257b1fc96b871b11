"""The live screen at every size: what must be readable, what must never be."""

from __future__ import annotations

from dataclasses import replace

import pytest

from monitor.dashboard.widgets.figure import Figure
from monitor.dashboard.widgets.line import Line
from monitor.dashboard.widgets.trend import TrendChart
from monitor.engine.snapshot import AlarmState, Interval, Measured
from tests.monitor.dashboard.fake_feed import (
    HOT,
    HOUSE,
    LOW,
    NORMAL,
    FakeFeed,
    FakePlayer,
    discharging,
    silent,
)
from tests.monitor.dashboard.screen_text import (
    QUICK,
    SIZES,
    press,
    rows,
    running,
    settle,
    sized,
    text,
)


@pytest.mark.parametrize(
    ("size", "playing"),
    [
        ((100, 30), True),
        ((40, 15), False),
        *(
            pytest.param(size, playing, marks=pytest.mark.slow)
            for size in SIZES[:4]
            for playing in (False, True)
        ),
    ],
)
async def test_what_every_size_must_say(size: tuple[int, int], playing: bool) -> None:
    """Alarms, stage, certainty, why, charge with doubt, time with interval, flow, sources, keys."""
    feed = FakeFeed(NORMAL, FakePlayer() if playing else None)
    async with running(feed, size) as (board, _):
        shown = text(board)
        figures = {figure.id: figure.words for figure in board.screen.query(Figure)}
        lines = rows(board)
    large = size[0] >= 60 and size[1] >= 18
    if large:
        assert figures == {"soc": "87 %", "wait": "2 h 40 min", "flow": "+18 A"}
        assert "█" in shown
    else:
        for words in ("87 % charged", "full in 2 h 40 min", "+18 A"):
            assert words in shown
    for words in (
        "no alarm",
        "Absorption, 94 % likely",
        "11:20 (1 h 12 min)",
        "eld 28.72 V for 12 min while current fell 31",
        "give or take 3",
        "2 h to 3 h 30 min",
        "15:10",
        "into the bank",
        "28.72 V",
        "18 °C",
        "shore",
        "53 % of 40 A",
        "5.7 A",
        "stage",
        "q quit",
        "h help",
    ):
        assert words in " ".join(shown.split()), words
    assert lines[0].strip().startswith("no alarm")
    assert len(lines) == size[1]
    assert max(map(len, lines)) <= size[0]
    assert ("capture x60" in shown) is playing


async def test_discharge_shows_the_time_that_is_left() -> None:
    async with running(FakeFeed(discharging(NORMAL))) as (board, _):
        shown = text(board)
    assert "Discharge, 71 % likely, or rest 29 %" in shown
    assert "left above 50 %, until 23:30" in shown
    assert "out of the bank" in shown


@pytest.mark.parametrize("size", QUICK[:4], ids=sized)
async def test_stale_is_shown_as_stale(size: tuple[int, int]) -> None:
    """The shunt goes away: no figure of the bank stays, and the reason and age are in words."""
    feed = FakeFeed(NORMAL)
    async with running(feed, size) as (board, pilot):
        feed.put(silent(NORMAL, 190.0, "no answer at the port"))
        await settle(pilot)
        shown = text(board)
        figures = {figure.words for figure in board.screen.query(Figure)}
    assert figures == {"--"}
    assert "no answer at the port" in shown
    assert "last 3 min ago" in " ".join(shown.split())
    assert "was absorption" in shown.lower()
    for old in ("28.72", "+18 A", "94 %", "2 h 40 min", "15:10"):
        assert old not in shown, old


async def test_one_missing_figure_leaves_the_others() -> None:
    house = replace(HOUSE, celsius=Measured(None, 700.0, "sensor unplugged"))
    async with running(FakeFeed(replace(NORMAL, banks=(house,)))) as (board, _):
        shown = text(board)
    assert "28.72 V   --" in shown
    assert "18 °C" not in shown


async def test_no_answer_gives_the_reason() -> None:
    forecast = replace(HOUSE.forecast, to_full=Interval(None, None, None, "not today: sunset"))
    house = replace(HOUSE, forecast=forecast)
    async with running(FakeFeed(replace(NORMAL, banks=(house,)))) as (board, _):
        assert "not today: sunset" in text(board)
        assert board.screen.query_one("#wait", Figure).words == "--"


async def test_a_live_feed_that_falls_silent_leaves_no_figure_up() -> None:
    """Not a device but the feed itself hangs: ten ticks of the screen's own second hand."""
    feed = FakeFeed(NORMAL)
    async with running(feed) as (board, pilot):
        for _ in range(9):
            board.count_quiet()
        assert "28.72" in text(board)
        board.count_quiet()
        await settle(pilot)
        shown = text(board)
        assert "nothing here is live" in shown
        assert "28.72" not in shown
        feed.put(replace(NORMAL, seconds=NORMAL.seconds + 30))
        await settle(pilot)
        assert "28.72" in text(board)


async def test_the_end_of_a_live_feed_is_said() -> None:
    feed = FakeFeed(NORMAL)
    async with running(feed) as (board, pilot):
        feed.end()
        await settle(pilot)
        assert "feed has ended" in text(board)
        assert "28.72" not in text(board)


async def test_alarm_line_has_word_mark_and_count_and_colour_only_then() -> None:
    feed = FakeFeed(NORMAL)
    async with running(feed) as (board, pilot):
        top = board.screen.query_one("#top")
        grey = top.styles.background
        feed.put(replace(NORMAL, alarms=(LOW, HOT)))
        await settle(pilot)
        first, second = rows(board)[:2]
        assert first.strip().startswith("!!! HIGH house: bank above 50 °C and still charging")
        assert "+1 more" in first
        assert second.strip() == "first: stop charging: open the charger's AC supply"
        assert top.styles.background != grey
        assert not top.has_class("seen")
        seen = replace(HOT, state=AlarmState.ACKNOWLEDGED)
        feed.put(replace(NORMAL, alarms=(seen, LOW)))
        await settle(pilot)
        assert top.has_class("seen")
        feed.put(NORMAL)
        await settle(pilot)
        assert rows(board)[0].strip().startswith("no alarm")
        assert top.styles.background == grey


async def test_nothing_repaints_that_did_not_change() -> None:
    """The same figures a second later: not one widget paints; one figure: only its own does."""
    feed = FakeFeed(NORMAL)
    async with running(feed) as (board, pilot):

        def paints() -> dict[str, int]:
            widgets = (*board.screen.query(Line), *board.screen.query(Figure))
            chart = board.screen.query_one(TrendChart)
            return {str(w.id): w.repaints for w in widgets} | {"trend": chart.repaints}

        before = paints()
        feed.put(replace(NORMAL, seconds=NORMAL.seconds + 1))
        await settle(pilot)
        assert paints() == before
        house = replace(HOUSE, volts=Measured(28.73, 1.0))
        feed.put(replace(NORMAL, seconds=NORMAL.seconds + 2, banks=(house, *NORMAL.banks[1:])))
        await settle(pilot)
        changed = {name for name, count in paints().items() if count != before[name]}
        assert changed - {"short"} == {"flow-doubt"}


async def test_the_trend_is_drawn_once_a_column() -> None:
    feed = FakeFeed(NORMAL)
    async with running(feed) as (board, pilot):
        chart = board.screen.query_one(TrendChart)
        width = board.window_seconds / chart.columns
        before = chart.repaints
        for tenth in range(1, 11):
            feed.put(replace(NORMAL, seconds=NORMAL.seconds + tenth * width / 10))
            await pilot.pause()
        assert chart.repaints - before == 1


async def test_resize_changes_the_layout_and_back() -> None:
    async with running(FakeFeed(NORMAL), (100, 30)) as (board, pilot):
        wide = text(board)
        await pilot.resize_terminal(40, 15)
        await settle(pilot)
        small = text(board)
        for words in ("87 % charged, give or take 3", "full in 2 h 40 min", "2 h to", "+18 A"):
            assert words in small
        await pilot.resize_terminal(100, 30)
        await settle(pilot)
        assert text(board) == wide


async def test_several_banks_by_one_key() -> None:
    async with running(FakeFeed(NORMAL)) as (board, pilot):
        await press(pilot, "b")
        assert "winch, 12 V 90 Ah absorbed-mat" in text(board)
        assert "Float" in text(board)
        await press(pilot, "b")
        assert "house, 24 V" in text(board)
