"""A page whose figures move: the rows that changed are painted anew, and nothing else."""

from __future__ import annotations

from typing import Any

import pytest
from textual.geometry import Region
from textual.widget import Widget

from monitor.dashboard.screens.page import Text
from tests.monitor.dashboard.board_in_terminal import moved
from tests.monitor.dashboard.fake_feed import FakeFeed
from tests.monitor.dashboard.screen_text import press, running, settle, text


class Asked:
    """What the page's text asks of the toolkit."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.rows: set[int] = set()
        self.whole = self.layouts = 0
        refresh = Widget.refresh

        def asked(widget: Widget, *regions: Region, layout: bool = False, **more: Any) -> Widget:
            if isinstance(widget, Text):
                self.layouts += layout
                self.whole += not regions and not layout
                self.rows |= {region.y for region in regions}
            return refresh(widget, *regions, layout=layout, **more)

        monkeypatch.setattr(Widget, "refresh", asked)


@pytest.mark.parametrize("size", [(100, 30), (40, 15)])
async def test_only_rows_that_changed_are_painted(
    monkeypatch: pytest.MonkeyPatch, size: tuple[int, int]
) -> None:
    async with running(FakeFeed(moved(0)), size) as (board, pilot):
        await press(pilot, "u")
        await settle(pilot)
        before = board.screen.query_one("#text", Text).shown
        asked = Asked(monkeypatch)
        board.snapshot = moved(3)
        await settle(pilot)
        after = board.screen.query_one("#text", Text).shown
        pairs = zip(str(before).split("\n"), str(after).split("\n"), strict=True)
        differ = {row for row, (was, now) in enumerate(pairs) if was != now}
        assert differ
        assert (asked.rows, asked.whole, asked.layouts) == (differ, 0, 0)
        seen = text(board)
    async with running(FakeFeed(moved(3)), size) as (board, pilot):
        await press(pilot, "u")
        await settle(pilot)
        assert text(board) == seen, "as on a screen that was opened at that moment"


async def test_more_rows_are_laid_out_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    async with running(FakeFeed(moved(0))) as (board, pilot):
        await press(pilot, "u")
        await settle(pilot)
        page = board.screen.query_one("#text", Text)
        asked = Asked(monkeypatch)
        page.show("\n".join(map(str, range(40))))
        await settle(pilot)
        assert asked.layouts
        assert page.size.height == 40
        page.show("a" * (page.size.width + 1))
        await settle(pilot)
        assert page.size.height == 2, "a line too long for its row takes two"
