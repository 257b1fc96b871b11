"""An event loop whose time is made: when everybody waits, the clock goes on to the next in line.

What takes hours runs in an instant, and the same script always gives the same times.
"""

from __future__ import annotations

import asyncio
import selectors
from collections.abc import Coroutine
from typing import Any

#: A wait up to this, seconds, crosses no time limit of a link: what is late is there the next time.
_SHORT_SECONDS = 0.3


def _short(timeout: float | None) -> bool:
    return timeout is not None and timeout < _SHORT_SECONDS


class _Selector(selectors.DefaultSelector):
    """Where the loop would wait so many seconds, the clock is moved by them. Before that, real
    sockets get `grace_seconds` in which bytes that are under way may arrive, where much would be
    skipped."""

    def __init__(self, grace_seconds: float) -> None:
        super().__init__()
        self.now = 1000.0
        self._grace_seconds = grace_seconds

    def select(self, timeout: float | None = None) -> list[tuple[selectors.SelectorKey, int]]:
        ready = super().select(0)
        if not ready and self._grace_seconds and timeout != 0 and not _short(timeout):
            ready = super().select(self._grace_seconds)
        if not ready and timeout is None:
            raise RuntimeError("everybody waits and nobody will wake: the script has no end")
        if not ready and timeout:
            self.now += timeout
        return ready


class VirtualLoop(asyncio.SelectorEventLoop):
    def __init__(self, grace_seconds: float = 0.0) -> None:
        self._virtual = _Selector(grace_seconds)
        super().__init__(self._virtual)

    def time(self) -> float:
        return self._virtual.now


def run_virtual(main: Coroutine[Any, Any, None], grace_seconds: float = 0.0) -> None:
    """Run a coroutine to its end in time that is made; `grace_seconds` where it has sockets."""
    loop = VirtualLoop(grace_seconds)
    try:
        loop.run_until_complete(main)
    finally:
        loop.run_until_complete(loop.shutdown_asyncgens())
        loop.close()


def virtual_now() -> float:
    """The made time, inside a virtual loop."""
    return asyncio.get_running_loop().time()
