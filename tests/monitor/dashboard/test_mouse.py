"""Where a mouse is asked for, a hint that is clicked does what its key does."""

from __future__ import annotations

from monitor.dashboard.screens.alarms import AlarmsScreen
from monitor.dashboard.screens.now import NowScreen
from tests.monitor.dashboard.fake_feed import NORMAL, FakeFeed
from tests.monitor.dashboard.screen_text import rows, running, settle


async def test_a_hint_that_is_clicked_does_what_its_key_does() -> None:
    async with running(FakeFeed(NORMAL), (60, 20)) as (board, pilot):
        bottom = rows(board)[-1]
        for words in ("a alarms", "s"):  # the key, and the last letter of its word
            at = bottom.index("a alarms") + (0 if words != "s" else len("a alarms") - 1)
            await pilot.click("#hints", offset=(at, 0))
            await settle(pilot)
            assert isinstance(board.screen, AlarmsScreen)
            back = rows(board)[-1].index("x back")
            await pilot.click("#hints", offset=(back, 0))
            await settle(pilot)
            assert isinstance(board.screen, NowScreen)


async def test_a_click_between_hints_does_nothing() -> None:
    async with running(FakeFeed(NORMAL), (60, 20)) as (board, pilot):
        between = rows(board)[-1].index("a alarms") - 1
        await pilot.click("#hints", offset=(between, 0))
        await settle(pilot)
        assert isinstance(board.screen, NowScreen)
    assert board.return_value is None
