"""A feed over a socket gives what the feed itself gives, and outlives the service."""

from __future__ import annotations

import asyncio
import contextlib
import itertools
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from adapters.reading import Action, Command
from monitor.attached import Attached
from monitor.cli import main
from monitor.commands.screens import print_lines
from monitor.engine.snapshot import Snapshot
from monitor.feed import Counting, Knowing
from monitor.mishaps import Refusal
from monitor.service.caller import call, foresee, look, tell
from monitor.service.server import Server
from monitor.trend import Trend
from tests.monitor.service.showing_feed import ME, ShowingFeed, serving, short_folder
from tests.wire.waiting import soon


@asynccontextmanager
async def attached(path: Path, **options: bool) -> AsyncIterator[Attached]:
    greeted = await asyncio.to_thread(call, path)
    feed = Attached(greeted, refresh_seconds=0.0, **options)
    await feed.start()
    try:
        yield feed
    finally:
        await feed.stop()


async def until_same(feed: Attached, wanted: Snapshot) -> None:
    async with asyncio.timeout(20):
        async for snapshot in feed.snapshots():
            if snapshot == wanted:
                return


async def test_it_shows_what_the_service_shows() -> None:
    with short_folder() as folder:
        real = ShowingFeed(4000)
        async with serving(real, folder / "s"), attached(folder / "s") as feed:
            assert feed.site == real.site
            await until_same(feed, real.snapshot())
            await soon(lambda: feed.events(0) == real.events(0), 10, "all events are here")
            last = real.snapshot().last_event
            assert feed.events(last - 2) == real.events(last - 2)
            bank = real.site.banks[0].id
            assert feed.trend(bank, 3600.0, 60) == Trend(0.0, 3600.0, ()), "on its way"
            assert feed.explain(bank) == ()
            await soon(lambda: feed.answers, 10, "the chart came")
            assert feed.trend(bank, 3600.0, 60) == real.trend(bank, 3600.0, 60)
            await soon(lambda: feed.explain(bank), 10, "the chain came")
            assert feed.explain(bank) == real.explain(bank)
            await soon(lambda: feed.said(bank), 10, "what devices said came")
            assert feed.said(bank) == real.said(bank)
            await soon(lambda: feed.link_counts(), 10, "how polls went came")
            assert feed.link_counts() == real.link_counts()
            assert feed.outlook(bank) == real.outlook(bank), "here before anybody plans"
            assert isinstance(feed, Knowing)
            assert isinstance(feed, Counting)


async def test_an_event_is_there_before_the_snapshot_that_tells_of_it() -> None:
    with short_folder() as folder:
        real = ShowingFeed(500)
        async with serving(real, folder / "s"), attached(folder / "s") as feed:
            await until_same(feed, real.snapshot())
            await soon(lambda: feed.events(0) == real.events(0), 10, "the first are here")
            shown = feed.snapshots()
            async with asyncio.timeout(20):
                for _ in range(40):
                    real.take(100)
                    snapshot = await anext(shown)
                    events = feed.events(0)
                    assert events[-1].number >= snapshot.last_event
                    numbers = [event.number for event in events]
                    assert numbers == list(range(numbers[0], numbers[-1] + 1)), "none missing"


async def test_a_command_arrives_under_the_name_of_the_user() -> None:
    with short_folder() as folder:
        real = ShowingFeed()
        async with serving(real, folder / "s"), attached(folder / "s") as feed:
            await until_same(feed, real.snapshot())
            feed.send(Command(1.0, "somebody else", Action.ACKNOWLEDGE, "house:bank-hot", "seen"))
            await soon(lambda: real.commands, 10, "it arrived")
        (command,) = real.commands
        assert (command.who, command.note) == (ME, "seen")


async def test_a_screen_that_only_looks_sends_nothing() -> None:
    with short_folder() as folder:
        real = ShowingFeed()
        async with serving(real, folder / "s"), attached(folder / "s", look_only=True) as feed:
            await until_same(feed, real.snapshot())
            feed.send(Command(1.0, "me", Action.ACKNOWLEDGE, "house:bank-hot"))
            real.take(1)
            await until_same(feed, real.snapshot())
        assert not real.commands


async def test_a_service_that_is_killed_and_comes_back_is_called_again() -> None:
    with short_folder() as folder:
        path, real, times = folder / "s", ShowingFeed(), itertools.count(100.0)
        async with contextlib.AsyncExitStack() as stack:
            first: Server = await stack.enter_async_context(serving(real, path))
            greeted = await asyncio.to_thread(call, path)
            feed = Attached(greeted, refresh_seconds=0.0, monotonic=lambda: next(times))
            await feed.start()
            stack.push_async_callback(feed.stop)
            await until_same(feed, real.snapshot())
            assert feed.trouble == ""
            await first.close()
            await soon(lambda: feed.trouble, 10, "it is missed")
            assert feed.trouble.startswith("Nothing known for ")
            assert "the service is gone (" in feed.trouble
            real.take(100)
            async with serving(real, path):
                await until_same(feed, real.snapshot())
                assert feed.trouble == ""
                await soon(lambda: feed.events(0) == real.events(0), 10, "no event twice")


async def test_lines_tell_once_that_the_service_goes_and_once_that_it_is_back(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with short_folder() as folder:
        path, real = folder / "s", ShowingFeed()
        async with contextlib.AsyncExitStack() as stack:
            first: Server = await stack.enter_async_context(serving(real, path))
            greeted = await asyncio.to_thread(call, path)
            feed = Attached(greeted, refresh_seconds=0.0)
            await feed.start()
            stack.push_async_callback(feed.stop)
            printing = asyncio.create_task(print_lines(feed))
            said: list[str] = []

            def lines(about: str) -> list[str]:
                said.extend(capsys.readouterr().out.splitlines())
                return [line for line in said if about in line]

            await soon(lambda: lines("house: "), 10, "it speaks")
            await first.close()
            await soon(lambda: lines("the service is gone ("), 10, "it is missed")
            async with serving(real, path):
                await soon(lambda: lines("the service is back"), 20, "it is back")
                (gone,), (back,) = lines("the service is gone ("), lines("the service is back")
            assert "nothing is known from now on" in gone
            assert said.index(gone) < said.index(back)
            printing.cancel()
            await asyncio.gather(printing, return_exceptions=True)


async def test_last_words_end_it() -> None:
    with short_folder() as folder:
        real = ShowingFeed()
        async with serving(real, folder / "s") as server, attached(folder / "s") as feed:
            await until_same(feed, real.snapshot())
            await server.close("nearly empty")
            async with asyncio.timeout(20):
                async for _ in feed.snapshots():
                    pass
            assert feed.last_words == "nearly empty"


async def test_one_look_is_one_snapshot() -> None:
    with short_folder() as folder:
        real = ShowingFeed()
        async with serving(real, folder / "s"):
            greeted, snapshot = await asyncio.to_thread(look, folder / "s")
        assert greeted.site == real.site
        assert snapshot == real.snapshot()


async def test_plans_are_made_from_what_the_service_knows(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with short_folder() as folder:
        real = ShowingFeed(4000)
        bank = real.site.banks[0].id
        async with serving(real, folder / "s"):
            _, snapshot, outlook = await asyncio.to_thread(foresee, folder / "s", bank)
            assert snapshot == real.snapshot()
            assert outlook == real.outlook(bank)
            with pytest.raises(Refusal, match="no such bank"):
                await asyncio.to_thread(foresee, folder / "s", "moon")
            words = ["plan", "load", "500", "10", "--socket", str(folder / "s")]
            assert await asyncio.to_thread(main, words) == 0
        told = capsys.readouterr()
        assert told.err == ""
        assert told.out


async def test_nobody_there_or_somebody_else_is_one_line() -> None:
    with short_folder() as folder:
        with pytest.raises(Refusal, match="no service there"):
            call(folder / "none")

        async def talk(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            writer.write(b"220 mail ready\r\n")
            await writer.drain()
            writer.close()

        other = await asyncio.start_unix_server(talk, folder / "mail")
        with pytest.raises(Refusal, match="does not know"):
            await asyncio.to_thread(call, folder / "mail")
        other.close()
        with pytest.raises(Refusal, match="too long"):
            call(folder / ("x" * 120))


async def test_an_entry_of_the_log_is_told_to_the_service_that_runs() -> None:
    with short_folder() as folder:
        real = ShowingFeed()
        entry = Command(0.0, "me", Action.NOTE, "house", "terminals cleaned")
        async with serving(real, folder / "s"):
            await asyncio.to_thread(tell, folder / "s", [entry, entry])
            own = Command(0.0, "me", Action.POLL_PERIOD, "shunt", "0")
            with pytest.raises(Refusal, match="for the tool itself"):
                await asyncio.to_thread(tell, folder / "s", [own])
        assert [each.note for each in real.commands] == ["terminals cleaned"] * 2
        assert real.commands[0].who == ME
