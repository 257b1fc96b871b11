"""The life of the service: start, serve, say what happens, end.

SIGTERM and SIGINT end it; SIGHUP changes nothing, so that a terminal that closes takes no service
with it. A changed configuration is taken up by starting it anew, which loses nothing: the state
goes on, and clients call again by themselves.
"""

from __future__ import annotations

import asyncio
import os
import signal
import time
from collections.abc import Awaitable, Callable, Coroutine, Sequence
from pathlib import Path
from typing import Any, Final

from monitor.live import Live
from monitor.service import wire
from monitor.service.log import CRITICAL, WARNING, Log
from monitor.service.manager import Watchdog, feed_watchdog, tell_manager, watchdog_seconds
from monitor.service.server import Server
from monitor.software import software

#: How often the log looks for events.
LOOK_SECONDS: Final = 1.0

#: Something that runs beside the service until it is cancelled.
Beside = Callable[[], Coroutine[Any, Any, None]]


def run_service(
    live: Live, path: Path, config: str, log: Log, beside: Sequence[Beside] = ()
) -> None:
    """Serve a live feed until told to end, or until it ends by itself."""
    asyncio.run(_serve(live, path, config, log, beside))


async def _serve(live: Live, path: Path, config: str, log: Log, beside: Sequence[Beside]) -> None:
    told = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, told.set)
    loop.add_signal_handler(signal.SIGHUP, _nothing)
    greeting = wire.hello(software(), os.getpid(), time.time(), config, live.site)
    server = Server(live, path, greeting, lambda words: log.say(words, WARNING))
    await server.open()
    try:
        await live.start()
        log.say(f"{software()} serves {config} at {path}")
        tell_manager(f"READY=1\nSTATUS=serving at {path}")
        works = [_tell_events(live, log), *(each() for each in beside)]
        seconds = watchdog_seconds()
        if seconds is not None:
            watchdog = Watchdog(live.pulse)
            works.append(feed_watchdog(watchdog, seconds, lambda words: log.say(words, CRITICAL)))
        await _first_of(told.wait(), works)
    finally:
        tell_manager("STOPPING=1")
        await live.stop()
        await server.close(live.last_words)
        log.say("ended" + (f": {live.last_words}" if live.last_words else ""))


def _nothing() -> None: ...


async def _first_of(told: Awaitable[object], works: Sequence[Coroutine[Any, Any, None]]) -> None:
    """Until told, or until one of the works ends; what failed is raised."""
    tasks = [asyncio.create_task(work) for work in works]
    waiting = asyncio.ensure_future(told)
    try:
        done, _ = await asyncio.wait({waiting, *tasks}, return_when=asyncio.FIRST_COMPLETED)
        for task in done:
            task.result()
    finally:
        for each in (waiting, *tasks):
            each.cancel()
        await asyncio.gather(waiting, *tasks, return_exceptions=True)


async def _tell_events(live: Live, log: Log) -> None:
    """Every event as a line of the log, until the feed has ended: by its choice, or a failure."""
    seen, ended = live.earlier, False
    while not ended:
        await asyncio.sleep(LOOK_SECONDS)
        ended = live.ended  # before the events: the last of them are told too
        for event in live.events(seen):
            seen = event.number
            log.event(event)
