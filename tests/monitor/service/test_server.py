"""The socket itself: who sees what, who may say what, and what a client that hangs costs."""

from __future__ import annotations

import asyncio
import socket
import stat
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import TypeVar

import pytest

from adapters.reading import Action
from monitor.mishaps import Refusal
from monitor.service import wire
from monitor.service.server import MOST_WAITING, Server
from tests.monitor.service.showing_feed import ME, ShowingFeed, serving, short_folder
from tests.wire.waiting import soon

Said = TypeVar("Said", bound=wire.Message)


class Talk:
    """A client that says and hears lines."""

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.reader, self.writer = reader, writer

    def say(self, message: wire.Message) -> None:
        self.writer.write(wire.line(message))

    async def hear(self, kind: type[Said]) -> Said:
        """The next of a kind."""
        async with asyncio.timeout(20):
            while True:
                data = await self.reader.readline()
                assert data, "it hung up"
                said = wire.from_service(data)
                if isinstance(said, kind):
                    return said


@asynccontextmanager
async def talking(path: Path) -> AsyncIterator[Talk]:
    reader, writer = await asyncio.open_unix_connection(str(path), limit=wire.LONGEST_NEWS)
    try:
        yield Talk(reader, writer)
    finally:
        writer.transport.abort()


async def test_two_watchers_see_the_same_and_nobody_costs_nothing() -> None:
    with short_folder() as folder:
        feed = ShowingFeed()
        async with serving(feed, folder / "s") as server:
            assert stat.S_IMODE((folder / "s").stat().st_mode) == 0o660
            async with talking(folder / "s") as one, talking(folder / "s") as two:
                for each in (one, two):
                    assert (await each.hear(wire.Hello)).protocol == wire.PROTOCOL
                    each.say(wire.Watch())
                    await each.hear(wire.News)
                feed.take(50)
                wanted = feed.snapshot()
                for each in (one, two):
                    while (await each.hear(wire.News)).snapshot != wanted:
                        pass
            await soon(lambda: server.clients == 0, 10, "both are gone")
    left = [task for task in asyncio.all_tasks() if task is not asyncio.current_task()]
    assert not left, "every task was awaited"


async def test_missed_events_are_fetched_by_number() -> None:
    with short_folder() as folder:
        feed = ShowingFeed(4000)
        async with serving(feed, folder / "s"), talking(folder / "s") as one:
            one.say(wire.Events(1, 0))
            assert (await one.hear(wire.EventPage)).events == feed.events(0)[: wire.PAGE]
            last = feed.snapshot().last_event
            assert last > 5
            one.say(wire.Events(2, last - 3))
            page = await one.hear(wire.EventPage)
            assert [event.number for event in page.events] == [last - 2, last - 1, last]


async def test_the_kernel_says_who_gives_a_command() -> None:
    with short_folder() as folder:
        feed = ShowingFeed()
        async with serving(feed, folder / "s"), talking(folder / "s") as one:
            one.say(wire.Do(5, Action.SHELVE, "house:bank-hot", "3600 after\x1b[2J lunch"))
            assert await one.hear(wire.Done) == wire.Done(5)
            (command,) = feed.commands
            assert command.who == ME
            assert (command.action, command.target) == (Action.SHELVE, "house:bank-hot")
            assert command.note == "3600 after [2J lunch", "no escape reaches a terminal"


@pytest.mark.parametrize(
    ("message", "words"),
    [
        (wire.Do(5, Action.POLL_PERIOD, "shunt", "0"), "for the tool itself"),
        (wire.Do(5, Action.NOTE, "house", "x" * 301), "at most 300"),
        (wire.Explain(5, "moon"), "no such bank"),
        (wire.AskTrend(5, "house", 3600.0, 0), "not kept"),
        (wire.AskTrend(5, "house", 3600.0, 10**9), "not kept"),
    ],
)
async def test_what_cannot_be_done_is_refused_in_one_line(
    message: wire.Message, words: str
) -> None:
    with short_folder() as folder:
        feed = ShowingFeed()
        async with serving(feed, folder / "s"), talking(folder / "s") as one:
            one.say(message)
            refused = await one.hear(wire.Refused)
            assert isinstance(refused, wire.Refused)
            assert refused.to == 5
            assert words in refused.words
            assert not feed.commands


async def test_who_only_looks_gives_no_command_and_cannot_take_that_back() -> None:
    with short_folder() as folder:
        feed = ShowingFeed()
        async with serving(feed, folder / "s"), talking(folder / "s") as one:
            one.say(wire.Watch(look_only=True))
            one.say(wire.Watch(look_only=False))
            one.say(wire.Do(5, Action.ACKNOWLEDGE, "house:bank-hot"))
            assert "only looks" in (await one.hear(wire.Refused)).words
            assert not feed.commands


async def test_nonsense_is_answered_and_a_line_without_end_is_dropped() -> None:
    said: list[str] = []
    with short_folder() as folder:
        async with (
            serving(ShowingFeed(), folder / "s", say=said.append) as server,
            talking(folder / "s") as one,
        ):
            one.writer.write(b"GET / HTTP/1.1\n")
            assert (await one.hear(wire.Refused)).to == 0
            one.writer.write(b"x" * (4 * wire.LONGEST_LINE))
            await soon(lambda: server.clients == 0, 10, "it was dropped")
    assert "a line without end" in said[0]


async def test_a_client_that_takes_nothing_is_dropped_and_costs_nothing() -> None:
    """It asks for snapshots and never reads: others go on, and nothing piles up."""
    said: list[str] = []
    with short_folder() as folder:
        feed = ShowingFeed()
        async with serving(feed, folder / "s", say=said.append, write_seconds=0.3) as server:
            async with talking(folder / "s") as good:
                good.say(wire.Watch())
                stuck = socket.socket(socket.AF_UNIX)
                stuck.connect(str(folder / "s"))
                stuck.sendall(wire.line(wire.Watch()))
                await soon(lambda: server.clients == 2, 10, "both are here")
                waiting = 0
                while server.clients == 2:
                    feed.take(1)
                    waiting = max(waiting, held(server))
                    await good.hear(wire.News)
                feed.take(1)
                await good.hear(wire.News)
                stuck.close()
            line = len(wire.line(wire.News(feed.snapshot())))
            assert waiting <= 3 * line, "one line being sent, one that waits"
    assert said == [f"a client of {ME} takes nothing any more; dropped"]


def held(server: Server) -> int:
    """Bytes that wait in this process for all clients."""
    total = 0
    for client in server._clients:
        total += client._writer.transport.get_write_buffer_size()
        total += len(client._news or b"") + sum(map(len, client._answers))
    return total


async def test_who_asks_without_listening_is_dropped() -> None:
    said: list[str] = []
    with short_folder() as folder:
        feed = ShowingFeed(4000)
        async with serving(feed, folder / "s", say=said.append) as server:
            stuck = socket.socket(socket.AF_UNIX)
            stuck.connect(str(folder / "s"))
            stuck.setblocking(False)
            ask = b"".join(wire.line(wire.Explain(n, "house")) for n in range(10 * MOST_WAITING))
            await soon(lambda: server.clients == 1, 10, "it is here")
            await asyncio.get_running_loop().sock_sendall(stuck, ask)
            await soon(lambda: server.clients == 0, 10, "it was dropped")
            stuck.close()
    assert "without listening" in said[0]


async def test_the_end_is_told_to_everybody_with_the_last_words() -> None:
    with short_folder() as folder:
        async with serving(ShowingFeed(), folder / "s") as server, talking(folder / "s") as one:
            await one.hear(wire.Hello)
            await server.close("nearly empty")
            assert await one.hear(wire.Ended) == wire.Ended("nearly empty")
        assert not (folder / "s").exists()


async def test_a_socket_left_by_a_killed_service_is_taken_over_and_a_live_one_is_not() -> None:
    with short_folder() as folder:
        path = folder / "s"
        dead = socket.socket(socket.AF_UNIX)
        dead.bind(str(path))
        dead.close()
        async with serving(ShowingFeed(), path):
            with pytest.raises(Refusal, match="another service listens there"):
                async with serving(ShowingFeed(), path):
                    pass
            async with talking(path) as one:
                await one.hear(wire.Hello)
        path.write_text("letters")
        with pytest.raises(Refusal, match="found a file"):
            async with serving(ShowingFeed(), path):
                pass
        assert path.read_text() == "letters"
        with pytest.raises(Refusal, match="too long for a socket"):
            async with serving(ShowingFeed(), folder / ("x" * 120)):
                pass


async def test_who_hangs_up_with_something_unread_is_no_news() -> None:
    """`now` takes one snapshot and goes: the system tells the service of it as of an error."""
    said: list[str] = []
    with short_folder() as folder:
        async with serving(ShowingFeed(), folder / "s", say=said.append) as server:
            with socket.socket(socket.AF_UNIX) as caller:
                caller.connect(str(folder / "s"))
                caller.sendall(wire.line(wire.Watch(look_only=True)))
                await soon(lambda: server.clients == 1, 10, "it was met")
            await soon(lambda: server.clients == 0, 10, "it was let go")
    assert said == []
