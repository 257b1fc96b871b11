"""Polls of the running devices, counted: how many, how many in vain, how long an answer takes.

A thin coat around an adapter, put on by the live feed; the adapter and whoever supervises it notice
nothing. Counted in the thread that polls, read from others: plain numbers, at worst one poll old.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from adapters.adapter import Adapter, LinkError, Values
from adapters.poll_result import polled
from monitor.mishaps import in_one_line

#: Answers looked at for the usual and the worst latency: some minutes (our choice).
_REMEMBERED: Final = 200


@dataclass(frozen=True, slots=True)
class LinkCount:
    """One device since the program began. `median_seconds` and `worst_seconds` of an answer, None
    before the first, and for one that speaks `unasked`: nothing is asked, so nothing is answered,
    and what a poll waits for is its next set. `error` is the last one in words, `error_seconds` how
    long ago; empty and None where there was none."""

    device: str
    polls: int
    lost: int
    median_seconds: float | None
    worst_seconds: float | None
    error: str
    error_seconds: float | None
    unasked: bool = False


def unasked(adapter: Adapter) -> bool:
    """Whether a device speaks by itself: it sets the pace, or is only listened to."""
    return bool(getattr(adapter, "unasked", False) or getattr(adapter, "listens", False))


class Counted:
    """An adapter whose polls are counted; everything else it is asked is the adapter's own."""

    def __init__(self, adapter: Adapter, clock: Callable[[], float] = time.monotonic) -> None:
        self._adapter = adapter
        self._clock = clock
        self._polls = self._lost = 0
        self._took: deque[float] = deque(maxlen=_REMEMBERED)
        self._error, self._error_at = "", 0.0
        self.name = adapter.name
        self.period_seconds = adapter.period_seconds

    def __getattr__(self, name: str) -> Any:
        return getattr(self._adapter, name)

    async def open(self) -> None:
        try:
            await self._adapter.open()
        except Exception as fault:
            self._note(fault)
            raise

    async def poll(self) -> Values:
        began = self._clock()
        self._polls += 1
        try:
            values = await polled(self._adapter)
        except LinkError as fault:
            self._lost += 1
            self._note(fault)
            raise
        if not unasked(self._adapter):
            self._took.append(self._clock() - began)
        return values

    async def close(self) -> None:
        await self._adapter.close()

    def _note(self, fault: Exception) -> None:
        self._error, self._error_at = in_one_line(fault)[0], self._clock()

    def count(self) -> LinkCount:
        import statistics  # not for whoever only shows what was counted

        took = list(self._took)
        return LinkCount(
            self.name,
            self._polls,
            self._lost,
            statistics.median(took) if took else None,
            max(took, default=None),
            self._error,
            self._clock() - self._error_at if self._error else None,
            unasked(self._adapter),
        )
