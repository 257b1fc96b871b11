"""A scripted device in a thread of its own, for commands that run their own event loop."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from tests.adapters.scripted_device import Script, TcpDevice


@contextmanager
def served(script: Script) -> Iterator[int]:
    """Gives the device's TCP port."""
    up = threading.Event()
    ports: list[int] = []
    ends: list[tuple[asyncio.AbstractEventLoop, asyncio.Event]] = []

    async def serve() -> None:
        async with TcpDevice(script).serving() as device:
            ports.append(device.port)
            end = asyncio.Event()
            ends.append((asyncio.get_running_loop(), end))
            up.set()
            await end.wait()

    thread = threading.Thread(target=lambda: asyncio.run(serve()), daemon=True)
    thread.start()
    assert up.wait(10.0)
    try:
        yield ports[0]
    finally:
        loop, end = ends[0]
        loop.call_soon_threadsafe(end.set)
        thread.join(10.0)
