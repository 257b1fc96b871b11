"""The explain screen shows the chain behind the figures, as the feed gives it."""

from __future__ import annotations

from tests.monitor.dashboard.fake_feed import NORMAL, FakeFeed
from tests.monitor.dashboard.screen_text import press, running, text


async def test_the_chain_follows_the_evidence() -> None:
    async with running(FakeFeed(NORMAL), (100, 30)) as (board, pilot):
        await press(pilot, "w")
        seen = text(board)
        for _ in range(4):
            await press(pilot, "n")
            seen += text(board)
        seen = " ".join(seen.split())
        assert "The charge filter" in seen
        assert "fraction of charge of house: 0.87, give or take 0.03" in seen
        assert seen.index("State of charge") < seen.index("The charge filter")
