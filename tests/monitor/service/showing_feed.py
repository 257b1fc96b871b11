"""A feed without devices: a recording's inputs, taken in when the test says so."""

from __future__ import annotations

import itertools
import os
import pwd
import shutil
import tempfile
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager
from pathlib import Path
from typing import Any

from adapters.reading import Command, Input
from monitor.engine.outlook import Outlook
from monitor.engine.parts import Part
from monitor.engine.said import Said
from monitor.engine.snapshot import Event, Snapshot
from monitor.link_counts import LinkCount
from monitor.recorded import Recorded, open_recorded
from monitor.service import wire
from monitor.service.server import Server
from monitor.showing import Showing
from monitor.trend import Trend

CAPTURES = Path(__file__).parents[3] / "replay" / "captures"
ME = pwd.getpwuid(os.getuid()).pw_name


def recorded() -> Recorded:
    return open_recorded(CAPTURES / "pinewater.capture.gz")


class ShowingFeed:
    """What a service serves. `commands` holds what was sent."""

    def __init__(self, inputs: int = 500) -> None:
        made = recorded()
        self.site = made.site
        self.commands: list[Command] = []
        self._showing = Showing(made.site, made.state)
        self._inputs: Iterator[Input] = iter(made.recording.inputs())
        self.take(inputs)

    def take(self, count: int) -> None:
        for value in itertools.islice(self._inputs, count):
            self._showing.step(value)
        self._showing.tell()

    def step(self, value: Input) -> None:
        self._showing.step(value)
        self._showing.tell()

    def snapshot(self) -> Snapshot:
        return self._showing.snapshot()

    def snapshots(self) -> AsyncIterator[Snapshot]:
        return self._showing.snapshots(0.0)

    def events(self, since: int) -> tuple[Event, ...]:
        return self._showing.events(since)

    def trend(self, bank: str, window_seconds: float, columns: int) -> Trend:
        return self._showing.trend(bank, window_seconds, columns)

    def explain(self, bank: str) -> tuple[Part, ...]:
        return self._showing.explain(bank)

    def outlook(self, bank: str) -> Outlook | None:
        return self._showing.outlook(bank)

    def said(self, bank: str) -> tuple[Said, ...]:
        return self._showing.said(bank)

    def link_counts(self) -> tuple[LinkCount, ...]:
        return (LinkCount("shunt", 12, 1, 0.01, 0.5, "no answer", 3.5),)

    def send(self, command: Command) -> None:
        self.commands.append(command)


@contextmanager
def short_folder() -> Iterator[Path]:
    """A folder whose path leaves room for that of a socket."""
    folder = Path(tempfile.mkdtemp(prefix="aw-"))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@asynccontextmanager
async def serving(feed: ShowingFeed, path: Path, **options: Any) -> AsyncIterator[Server]:
    greeting = wire.hello("ampwright 0.1.0", os.getpid(), 0.0, "coach.toml", feed.site)
    server = Server(feed, path, greeting, **options)
    await server.open()
    try:
        yield server
    finally:
        await server.close()
