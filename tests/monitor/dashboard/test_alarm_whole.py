"""On the screens themselves no condition is cut, however small the terminal and whatever draws the
charts."""

from __future__ import annotations

from dataclasses import replace
from itertools import cycle
from typing import Final

import pytest

from monitor.config_limits import ALL_ROWS
from monitor.dashboard.app import Dashboard
from monitor.dashboard.screens.now import LITTLE
from monitor.dashboard.widgets.blocks import Signs
from monitor.engine.snapshot import AlarmState, AlarmView
from monitor.plain import NOW_COLUMNS, NOW_LINES, now_text
from monitor.words.alarm_states import state_short
from monitor.words.conditions import condition_name
from monitor.words.sentences import PRIORITY_MARK, unstopped
from tests.monitor.dashboard.fake_feed import LOW, NORMAL, FakeFeed
from tests.monitor.dashboard.screen_text import press, rows, running, settle, sized

#: The states that the alarm line tells; one after the other, since they take turns.
STATES: Final = (AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED, AlarmState.ACKNOWLEDGED)
ALARMS: Final = [
    replace(
        LOW,
        name=row.name,
        words=row.words,
        priority=row.priority,
        first=row.first,
        causes=row.causes,
        state=state,
    )
    for row, state in zip(ALL_ROWS.values(), cycle(STATES), strict=False)
]
#: Of every room one or two, in every run; all of them with what is slow.
SOME: Final = ALARMS[:: len(ALARMS) // 5]
OTHER: Final = replace(LOW, name="clock-jumped", state=AlarmState.RETURNED)


def whole(shown: list[str], alarm: AlarmView, *, count: bool) -> None:
    """Its mark, its sentence or its name, its state, how many more; and nothing that is cut."""
    text = " ".join(" ".join(shown).split())
    assert PRIORITY_MARK[alarm.priority] in text, text
    assert condition_name(alarm.name) in text or unstopped(alarm.words) in text, text
    assert state_short(alarm) in text, text
    assert "..." not in text, text
    assert "…" not in text, text
    assert not count or "+1" in text, text


@pytest.mark.parametrize("signs", Signs)
@pytest.mark.parametrize(
    ("size", "alarms"),
    [
        ((30, 10), SOME),
        *(pytest.param(size, ALARMS, marks=pytest.mark.slow) for size in ((30, 10), (80, 24))),
    ],
    ids=lambda value: sized(value) if isinstance(value, tuple) else f"{len(value)}",
)
async def test_no_screen_cuts_a_condition(
    size: tuple[int, int], alarms: list[AlarmView], signs: Signs
) -> None:
    feed = FakeFeed(NORMAL)
    async with running(feed, size, signs=signs) as (board, pilot):
        for key in ("", "g", "a"):
            await press(pilot, key)
            for alarm in alarms:
                feed.put(replace(NORMAL, alarms=(alarm, OTHER)))
                await settle(pilot)
                if key == "a":
                    # Of the list only the first alarm: a row, or two.
                    whole(painted(board, "list")[: 1 + (size[0] < 40)], alarm, count=False)
                else:
                    whole(painted(board, "alarm"), alarm, count=True)
                if not key:
                    assert "..." not in "".join(painted(board, "note")) or size[1] < LITTLE
            await press(pilot, "x" if key else "")


def painted(board: Dashboard, name: str) -> list[str]:
    """The rows of the screen that a widget has taken."""
    place = board.screen.query_one(f"#{name}").region
    return [row[place.x : place.right] for row in rows(board)[place.y : place.bottom]]


@pytest.mark.parametrize("alarm", SOME, ids=lambda alarm: alarm.name)
def test_one_look_tells_it_whole(alarm: AlarmView) -> None:
    lines = now_text(replace(NORMAL, alarms=(alarm, OTHER))).splitlines()
    assert len(lines) <= NOW_LINES
    assert max(map(len, lines)) <= NOW_COLUMNS
    whole(lines[:1], alarm, count=True)
