"""What is on the screen, as text: the one place in the tests that reaches into the compositor."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import UTC

import pytest
from textual.pilot import Pilot

from monitor.dashboard.app import Dashboard
from monitor.dashboard.svg import screen_rows
from tests.monitor.dashboard.fake_feed import FakeFeed

SIZES = ((100, 30), (80, 24), (60, 20), (40, 15), (30, 10))


def rows(board: Dashboard) -> list[str]:
    """The painted rows of the screen on top, without trailing blanks."""
    return ["".join(segment.text for segment in row).rstrip() for row in screen_rows(board)]


def text(board: Dashboard) -> str:
    return "\n".join(rows(board))


def sized(size: tuple[int, int]) -> str:
    """A size as the name of a test."""
    return f"{size[0]}x{size[1]}"


#: The largest and a telephone's in every run; the sizes between them with what is slow.
QUICK = [
    size if size in ((100, 30), (40, 15)) else pytest.param(size, marks=pytest.mark.slow)
    for size in SIZES
]
#: The same where a telephone's says enough.
SMALLEST = [
    pytest.param(size, marks=() if size == (40, 15) else pytest.mark.slow)
    for size in ((80, 24), (40, 15))
]


async def settle(pilot: Pilot[int]) -> None:
    """Let the feed be read, the screens be laid out and what changed be painted."""
    for _ in range(3):
        await pilot.pause()


@asynccontextmanager
async def running(
    feed: FakeFeed, size: tuple[int, int] = (100, 30), **options: object
) -> AsyncIterator[tuple[Dashboard, Pilot[int]]]:
    board = Dashboard(feed, zone=UTC, **options)  # type: ignore[arg-type]
    async with board.run_test(size=size) as pilot:
        await settle(pilot)
        yield board, pilot


async def press(pilot: Pilot[int], keys: str) -> None:
    """Press single plain keys, one after the other."""
    for key in keys:
        await pilot.press(key)
        await settle(pilot)
