"""The service that is attached to dies: from then on nothing on any screen may look sound."""

from __future__ import annotations

from dataclasses import replace

import pytest

from monitor.engine.snapshot import Snapshot
from tests.monitor.dashboard.fake_feed import HOT, NORMAL, FakeFeed
from tests.monitor.dashboard.screen_text import press, rows, running, settle, text

GONE = "Nothing known for 12 s: the service is gone (it ended); calling again."


class Attached(FakeFeed):
    """A feed of a service that may go."""

    trouble = ""


async def dead(size: tuple[int, int], key: str, snapshot: Snapshot = NORMAL) -> tuple[str, str]:
    """The top row and the whole of a screen once the service is dead, in one line."""
    feed = Attached(snapshot)
    async with running(feed, size) as (board, pilot):
        if key:
            await press(pilot, key)
        feed.trouble = GONE
        board.count_quiet()
        await settle(pilot)
        return rows(board)[0].strip(), " ".join(text(board).split())


@pytest.mark.parametrize("size", [(80, 24), (40, 15), (30, 10)])
async def test_the_live_screen_says_first_that_nothing_is_known_and_since_when(
    size: tuple[int, int],
) -> None:
    top, said = await dead(size, "")
    assert top.startswith("Nothing known for 12 s: the")
    assert "the service is gone" in said
    assert said.count("Nothing known") == 1
    assert said.count("no alarm") == 1
    assert "as of 12:32: no alarm" in said
    assert "87 %" not in said


async def test_an_alarm_that_stood_is_told_as_of_when() -> None:
    _, said = await dead((80, 24), "", replace(NORMAL, alarms=(HOT,)))
    assert "as of 12:32: !!! HIGH" in said
    _, said = await dead((30, 10), "", replace(NORMAL, alarms=(HOT,)))
    assert "as of 12:32: !!!" in said


@pytest.mark.parametrize("size", [(80, 24), (40, 15), (30, 10)])
async def test_the_alarms_screen_tells_as_of_when(size: tuple[int, int]) -> None:
    top, said = await dead(size, "a")
    assert top.startswith("Nothing known for 12 s: the")
    assert "As of 12:32: no alarm" in said
    assert "Alarms: no alarm" not in said


async def test_the_devices_screen_tells_as_of_when() -> None:
    top, said = await dead((80, 24), "d")
    assert top.startswith("Nothing known for 12 s")
    assert "shunt: as of 12:32: answered" in said
    assert "just now" not in said
    assert "answers" not in said


async def test_all_is_as_before_once_the_service_is_back() -> None:
    feed = Attached(NORMAL)
    async with running(feed, (80, 24)) as (board, pilot):
        before = text(board)
        feed.trouble = GONE
        board.count_quiet()
        await settle(pilot)
        feed.trouble = ""
        feed.put(replace(NORMAL, seconds=NORMAL.seconds + 1.0))
        await settle(pilot)
        feed.put(NORMAL)
        await settle(pilot)
        assert text(board) == before
