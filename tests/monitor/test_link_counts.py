"""Polls counted: answers, losses, latency, the last error; the adapter itself is left alone."""

from __future__ import annotations

import asyncio

import pytest

from adapters.adapter import DeviceSettings, LinkError, Values
from monitor.commands.devices import _tried
from monitor.config_devices import DeviceConfig
from monitor.link_counts import Counted
from monitor.link_health import _polled
from monitor.words.devices import count_lines


class Scripted:
    """Answers or fails as told; `remark` is one of its own attributes."""

    name, period_seconds, remark = "shunt", 5.0, "in part"

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
    assert counted.remark == "in part", "what it is asked besides is the adapter's own"
    assert getattr(counted, "about", ()) == ()


def test_a_device_that_does_not_open_says_why() -> None:
    counted = Counted(Scripted([0.0], LinkError("no such port")), lambda: 0.0)
    with pytest.raises(LinkError):
        asyncio.run(counted.open())
    count = counted.count()
    assert (count.polls, count.error) == (0, "no such port")
    assert count.median_seconds is None


@pytest.mark.parametrize("kind", ["unasked", "listens"])
def test_of_a_device_that_speaks_by_itself_no_answer_is_timed(kind: str) -> None:
    """What a poll waits for then is the next set, or nothing; the command says the same."""
    clock = [0.0]
    adapter = Scripted(clock, 0.0, 0.99, 0.99, 0.99)
    setattr(adapter, kind, True)
    counted = Counted(adapter, lambda: clock[0])

    async def polls() -> None:
        await counted.open()
        await counted.poll()

    asyncio.run(polls())
    count = counted.count()
    assert (count.polls, count.median_seconds, count.worst_seconds) == (1, None, None)
    assert count.unasked
    assert count_lines(count) == [
        "1 polls since the start, 0 lost",
        "it speaks unasked",
        "no error",
    ]
    device = DeviceConfig("scripted", DeviceSettings("shunt"), 5.0)
    tried = asyncio.run(_polled(adapter, device, 1, lambda: clock[0]))
    assert (tried.median_seconds, tried.worst_seconds, tried.unasked) == (None, None, True)
    assert next(_tried(tried)) == "1 polls, 0 lost; it speaks unasked"
