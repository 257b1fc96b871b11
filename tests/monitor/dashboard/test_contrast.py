"""Every pair of colours that is really painted, on every screen: text 7:1, drawings 3:1.

WCAG 2.2, 1.4.6 and 1.4.11. What lies dimmed behind a list is inactive and exempt; the terminal's
own colours are known to the terminal alone.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import pytest

from monitor.commission.attended import Attended
from monitor.commission.installation_file import from_site
from monitor.commission.procedure import Procedure
from monitor.commission.session import Session
from monitor.commission.setting import Setting
from monitor.dashboard.actions import DEEDS
from monitor.dashboard.app import Dashboard
from monitor.dashboard.themes import THEMES
from monitor.engine.snapshot import AlarmState, Priority
from tests.monitor.dashboard.contrast import Painted, painted
from tests.monitor.dashboard.contrast import contrast as ratio
from tests.monitor.dashboard.fake_feed import HOT, LOW, NORMAL, FakeFeed, FakePlayer
from tests.monitor.dashboard.screen_text import press, running, settle

TEXT: Final = 7.0
DRAWING: Final = 3.0
COLOURED: Final = [theme.name for theme in THEMES if not theme.ansi]
#: Every run walks one theme; what the others declare is held to the same ratios in `test_drawing`.
WALKED: Final = [
    COLOURED[0],
    *(pytest.param(name, marks=pytest.mark.slow) for name in COLOURED[1:]),
]
#: Keys that open a screen, and those that leave it again.
WAYS: Final = (
    *((deed.key, "x") for deed in DEEDS if deed.screen),
    ("y", "y"),
    ("ol", "escape,x"),
    ("9", "escape"),
    ("m", "escape"),
)


def poor(runs: list[Painted]) -> dict[tuple[str, str], tuple[float, str]]:
    """Pairs of ink and paper that do not stand out enough, with their ratio and an example."""
    found = {}
    for run in runs:
        words = any(sign.isalnum() for sign in run.text)
        stands_out = ratio(run.ink, run.paper)
        if stands_out < (TEXT if words else DRAWING):
            found[run.ink, run.paper] = (round(stands_out, 2), run.text.strip()[:40])
    return found


def of_the_list(board: Dashboard) -> list[Painted]:
    """What belongs to the screen on top: of a list over another screen only the list."""
    runs = list(painted(board))
    parts = board.screen.query("CommandInput, OptionList")
    if not parts:
        return runs
    rows = {row for part in parts for row in range(part.region.y, part.region.bottom)}
    told = [run for run in runs if run.row in rows]
    assert len(told) > 8, "the list was not looked at"
    return told


@pytest.mark.parametrize("theme", WALKED)
async def test_everything_painted_stands_out(theme: str) -> None:
    feed = FakeFeed(NORMAL, FakePlayer())
    seen: list[Painted] = []
    async with running(feed, (80, 24), theme=theme) as (board, pilot):
        for priority in (Priority.LOW, Priority.MEDIUM, Priority.HIGH):
            for state in (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED, AlarmState.RETURNED):
                alarm = replace(HOT, priority=priority, state=state)
                feed.put(replace(NORMAL, alarms=(alarm, LOW)))
                await settle(pilot)
                seen += painted(board)
        for opens, leaves in WAYS:
            await press(pilot, opens)
            seen += of_the_list(board)
            await pilot.press(*leaves.split(","))
            await settle(pilot)
    assert len({(run.ink, run.paper) for run in seen}) > 8, "little was looked at"
    assert not poor(seen)


@pytest.mark.parametrize("theme", COLOURED)
async def test_a_check_that_is_proved_stands_out(theme: str) -> None:
    feed = FakeFeed(NORMAL)
    bank = feed.site.banks[0]
    procedure = Procedure(Setting(feed.site, bank, from_site(feed.site, bank)))
    attended = Attended(feed, Session(feed, procedure, None))
    async with running(attended, (80, 24), theme=theme) as (board, pilot):  # type: ignore[arg-type]
        seen = list(painted(board))
        await press(pilot, "o")
        seen += painted(board)
        await pilot.press("escape")
        await press(pilot, "l")
        seen += painted(board)
    assert not poor(seen)
