"""A picture of the screen as SVG, made by the program itself.

`python -m monitor.dashboard.picture OUT.svg` draws a shipped recording at a fixed moment, so that
the same version makes the same file, byte for byte.
"""

from __future__ import annotations

import argparse
import asyncio
import dataclasses
import itertools
import sys
from collections.abc import AsyncIterator, Sequence
from datetime import UTC, timedelta, timezone, tzinfo
from pathlib import Path
from typing import Final

from adapters.reading import Command
from monitor.bank import Site
from monitor.dashboard.app import Dashboard
from monitor.dashboard.keeping import screen_svg
from monitor.engine.outlook import Outlook
from monitor.engine.parts import Part
from monitor.engine.said import Said
from monitor.engine.snapshot import Event, Snapshot
from monitor.feed import Feed, PlayerControls
from monitor.recorded import open_recorded
from monitor.showing import Showing
from monitor.trend import Trend
from monitor.words.texts import PICTURE_TITLE

SIZE: Final = (100, 30)

# What the picture shows unless told otherwise: a recording that comes with the program, a sunny
# forenoon some hours into it, by the clock of the place where it plays, alarms of before seen.
RECORDING: Final = Path(__file__).parents[2] / "replay" / "captures" / "pinewater.capture.gz"
HOURS: Final = 45.7
ZONE: Final = timezone(timedelta(hours=-7))
_KEYS: Final = "akkkkkx"


async def picture(
    feed: Feed,
    *,
    size: tuple[int, int] = SIZE,
    zone: tzinfo = UTC,
    theme: str | None = None,
    keys: str = "",
    title: str = PICTURE_TITLE,
) -> str:
    """The screen of `feed` after its first snapshot, and after `keys` were pressed."""
    board = Dashboard(feed, zone=zone, theme=theme)
    async with board.run_test(size=size) as pilot:
        while board.snapshot is None:
            await pilot.pause()
        await pilot.pause()
        for key in keys:
            await pilot.press(key)
            await pilot.pause()
        return screen_svg(board, title)


class Still:
    """One moment of a recording as a feed: everything up to it, then only what keys command."""

    player: PlayerControls | None = None

    def __init__(self, path: Path, hours: float) -> None:
        recorded = open_recorded(path)
        self.site: Site = recorded.site
        self._showing = Showing(recorded.site, recorded.state)
        self._told = asyncio.Event()
        self._seconds = end = recorded.recording.start + hours * 3600
        for value in itertools.takewhile(lambda v: v.seconds <= end, recorded.recording.inputs()):
            self._showing.step(value)

    async def start(self) -> None:
        """Nothing to open."""

    async def stop(self) -> None:
        """Nothing to close."""

    async def snapshots(self) -> AsyncIterator[Snapshot]:
        while True:
            yield self._showing.snapshot()
            self._told.clear()
            await self._told.wait()

    def events(self, since: int) -> tuple[Event, ...]:
        return self._showing.events(since)

    def send(self, command: Command) -> None:
        self._showing.step(dataclasses.replace(command, seconds=self._seconds))
        self._told.set()

    def look_again(self) -> None:
        """The same moment once more."""
        self._told.set()

    def trend(self, bank: str, window_seconds: float, columns: int) -> Trend:
        return self._showing.trend(bank, window_seconds, columns)

    def explain(self, bank: str) -> tuple[Part, ...]:
        return self._showing.explain(bank)

    def outlook(self, bank: str) -> Outlook | None:
        return self._showing.outlook(bank)

    def said(self, bank: str) -> tuple[Said, ...]:
        return self._showing.said(bank)


def main(argv: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m monitor.dashboard.picture")
    parser.add_argument("out", type=Path, help="the SVG file to write")
    parser.add_argument("--recording", type=Path, default=RECORDING)
    parser.add_argument("--hours", type=float, default=HOURS, help="how far into the recording")
    parser.add_argument("--theme", help="colours other than the usual ones")
    parser.add_argument("--keys", default=_KEYS, help="keys to press first")
    chosen = parser.parse_args(argv)
    feed = Still(chosen.recording, chosen.hours)
    drawn = asyncio.run(picture(feed, zone=ZONE, theme=chosen.theme, keys=chosen.keys))
    chosen.out.parent.mkdir(parents=True, exist_ok=True)
    chosen.out.write_text(drawn, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
