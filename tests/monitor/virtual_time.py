"""An event loop whose time is made: when everybody waits, the clock goes on to the next in line.

What takes hours runs in an instant, and the same script always gives the same times.
"""

from __future__ import annotations

import asyncio
import os
import selectors
from collections.abc import Coroutine
from typing import Any


class _Selector(selectors.DefaultSelector):
    """Never waits: where the loop would wait so many seconds, the clock is moved by them. Real
    `sockets` are asked twice: what one end of a loopback sends lies at the other at once."""

    def __init__(self, sockets: bool) -> None:
        super().__init__()
        self.now = 1000.0
        self._sockets = sockets

    def select(self, timeout: float | None = None) -> list[tuple[selectors.SelectorKey, int]]:
        ready = super().select(0)
        if not ready and self._sockets and timeout != 0:
            os.sched_yield()
            ready = super().select(0)
        if not ready and timeout is None:
            raise RuntimeError("everybody waits and nobody will wake: the script has no end")
        if not ready and timeout:
            self.now += timeout
        return ready


class VirtualLoop(asyncio.SelectorEventLoop):
    def __init__(self, sockets: bool = False) -> None:
        self._virtual = _Selector(sockets)
        super().__init__(self._virtual)

    def time(self) -> float:
        return self._virtual.now


def run_virtual(main: Coroutine[Any, Any, None], sockets: bool = False) -> None:
    """Run a coroutine to its end in time that is made; `sockets` where it has real ones."""
    loop = VirtualLoop(sockets)
    try:
        loop.run_until_complete(main)
    finally:
        loop.run_until_complete(loop.shutdown_asyncgens())
        loop.close()


def virtual_now() -> float:
    """The made time, inside a virtual loop."""
    return asyncio.get_running_loop().time()
