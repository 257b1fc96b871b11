"""Polls counted: answers, losses, latency, the last error; the adapter itself is left alone."""

from __future__ import annotations

import asyncio

import pytest

from adapters.adapter import LinkError, Values
from monitor.link_counts import Counted


class Scripted:
    """Answers or fails as told; `unasked` is one of its own attributes."""

    name, period_seconds, unasked = "shunt", 5.0, True

    def __init__(self, clock: list[float], *steps: float | Exception) -> None:
        self._clock, self._steps = clock, list(steps)
        self.closed = 0

    async def open(self) -> None:
        self._next()

    async def poll(self) -> Values:
        self._next()
        return ()

    async def close(self) -> None:
        self.closed += 1

    def _next(self) -> None:
        step = self._steps.pop(0)
        if isinstance(step, Exception):
            raise step
        self._clock[0] += step


def test_polls_losses_and_latency_are_counted() -> None:
    clock = [100.0]
    adapter = Scripted(clock, 1.0, 0.04, 0.05, LinkError("no answer\nwithin 1 s"), 0.3)
    counted = Counted(adapter, lambda: clock[0])

    async def polls() -> None:
        await counted.open()
        await counted.poll()
        await counted.poll()
        with pytest.raises(LinkError):
            await counted.poll()
        clock[0] += 60.0
        await counted.poll()
        await counted.close()

    asyncio.run(polls())
    count = counted.count()
    assert (count.polls, count.lost) == (4, 1)
    assert count.median_seconds == pytest.approx(0.05)
    assert count.worst_seconds == pytest.approx(0.3)
    assert count.error == "no answer within 1 s"
    assert count.error_seconds == pytest.approx(60.3)
    assert adapter.closed == 1
    assert counted.unasked is True, "what it is asked besides is the adapter's own"
    assert getattr(counted, "remark", "") == ""


def test_a_device_that_does_not_open_says_why() -> None:
    counted = Counted(Scripted([0.0], LinkError("no such port")), lambda: 0.0)
    with pytest.raises(LinkError):
        asyncio.run(counted.open())
    count = counted.count()
    assert (count.polls, count.error) == (0, "no such port")
    assert count.median_seconds is None
