"""A closed screen is gone: going from screen to screen all day holds on to nothing of them."""

from __future__ import annotations

import gc

from textual._styles_cache import StylesCache
from textual.strip import Strip
from textual.widget import Widget

from tests.monitor.dashboard.fake_feed import NORMAL, FakeFeed
from tests.monitor.dashboard.screen_text import press, running


def _held() -> tuple[int, int, int]:
    gc.collect()
    kinds = [type(each) for each in gc.get_objects()]
    widgets = sum(issubclass(kind, Widget) for kind in kinds)
    return widgets, kinds.count(StylesCache), kinds.count(Strip)


async def test_screens_that_were_closed_leave_no_lines_behind() -> None:
    """Opened and closed, and one in place of another: as much is held after the third round as
    after the first. Without what `closed_screens` does, a round leaves some 200 lines."""
    async with running(FakeFeed(NORMAL), (60, 20)) as (_, pilot):
        held = []
        for _round in range(3):
            await press(pilot, "hxukx")
            held.append(_held())
    (widgets, caches, lines), last = held[0], held[-1]
    assert last[0] <= widgets + 2
    assert last[1] <= caches + 2
    assert last[2] <= lines + 20
