"""The one loop that keeps a device alive and the engine told.

    open ── poll, poll, poll ... ── silent or lost ── close, wait 0.5 .. 5 s ── open ...

Every good poll becomes a `Reading`. Silence becomes one `LinkState` that is down, with the reason
in words; the first good reading after it (and the very first) is preceded by one that is up. No
fault of an adapter gets past this loop: what it cannot explain becomes a reason too.
"""

from __future__ import annotations

import asyncio
import contextlib
import math
from collections.abc import Awaitable, Callable
from typing import Final

from adapters.adapter import Adapter, LinkError, LinkLost, SettingsError, Values
from adapters.poll_result import polled
from adapters.reading import LinkState, Reading

Clock = Callable[[], float]
Emit = Callable[[Reading | LinkState], None]
Sleep = Callable[[float], Awaitable[object]]
#: Told at each round of the loop, answer or not: the reader is not stuck.
Turned = Callable[[], None]
#: From a device's own period in seconds to the one that is wanted now.
Pace = Callable[[float], float]

#: Waits before opening again: soon enough to be back before a person has walked to the screen,
#: rare enough to cost nothing on a device that stays away (common practice).
FIRST_WAIT_SECONDS: Final = 0.5
LONGEST_WAIT_SECONDS: Final = 5.0

#: No device is read faster than this, whatever its adapter says: never a busy loop.
SHORTEST_PERIOD_SECONDS: Final = 0.02

#: Real time after which an adapter that breaks its promise to answer is given up. Far above the
#: time limits of adapters (seconds), so that it speaks only of a fault in one.
STUCK_SECONDS: Final = 60.0

#: Reasons told in one spell of silence. Two that alternate must not fill the record for weeks.
_MOST_REASONS: Final = 8


async def supervise(
    adapter: Adapter,
    clock: Clock,
    emit: Emit,
    *,
    missed_polls: int = 3,
    sleep: Sleep = asyncio.sleep,
    stuck_seconds: float = STUCK_SECONDS,
    pace: Pace = lambda period: period,
    turned: Turned = lambda: None,
) -> None:
    """Open, poll and reopen one device until cancelled; on the way out the device is closed.

    `clock` gives the monotonic seconds that stamp what is emitted; `sleep` waits. The link is told
    down after `missed_polls` polls in a row without an answer, or at once when it cannot be opened
    or is lost. `pace` is asked before every wait, so that devices can be polled slower for a while.
    `turned` is called at every round, answer or not.
    """
    link = _Link(adapter.name, clock, emit)
    wait = FIRST_WAIT_SECONDS
    try:
        while True:
            before = link.readings
            turned()
            reason = await _open(adapter, stuck_seconds)
            if reason is None:
                reason = await _poll_until_silent(
                    adapter, link, missed_polls, sleep, stuck_seconds, pace, turned
                )
            link.down(reason)
            await _close(adapter)
            if link.readings > before:
                wait = FIRST_WAIT_SECONDS
            await sleep(wait)
            wait = min(2.0 * wait, LONGEST_WAIT_SECONDS)
    finally:
        await _close(adapter)


class _Link:
    """What the engine has been told of the link, so that nothing is told twice."""

    def __init__(self, name: str, clock: Clock, emit: Emit) -> None:
        self._name = name
        self.clock = clock
        self._emit = emit
        self._up = False
        self._told: set[str] = set()
        self._remark = ""
        self.readings = 0

    def down(self, reason: str) -> None:
        if self._up:
            self._up = False
            self._told.clear()
        if reason not in self._told and len(self._told) < _MOST_REASONS:
            self._told.add(reason)
            self._emit(LinkState(self.clock(), self._name, up=False, reason=reason))

    def good(self, values: Values, remark: str) -> None:
        now = self.clock()
        if not self._up or remark != self._remark:
            self._up, self._remark = True, remark
            self._emit(LinkState(now, self._name, up=True, reason=remark))
        self._emit(Reading(now, self._name, values))
        self.readings += 1


async def _open(adapter: Adapter, stuck_seconds: float) -> str | None:
    """None when open, else why not."""
    try:
        async with asyncio.timeout(stuck_seconds):
            await adapter.open()
    except Exception as fault:
        _heed_cancellation()
        return _reason(fault, adapter)
    _heed_cancellation()
    return None


async def _poll_until_silent(
    adapter: Adapter,
    link: _Link,
    missed_polls: int,
    sleep: Sleep,
    stuck_seconds: float,
    pace: Pace,
    turned: Turned,
) -> str:
    """Poll at the device's period until it is silent for too long or lost; gives the reason.

    Polls stand on a fixed grid of times: a late one does not shift the others, and those missed
    while one took long are not made up for.
    """
    due = link.clock()
    missed = 0
    while True:
        turned()
        try:
            async with asyncio.timeout(stuck_seconds):
                values = await polled(adapter)
        except Exception as fault:
            _heed_cancellation()
            missed += 1
            expected = isinstance(fault, LinkError) and not isinstance(fault, LinkLost)
            if not expected or missed >= missed_polls:
                return _reason(fault, adapter)
        else:
            _heed_cancellation()
            missed = 0
            link.good(values, str(getattr(adapter, "remark", "")))
        period = max(pace(adapter.period_seconds), SHORTEST_PERIOD_SECONDS)
        if getattr(adapter, "unasked", False):
            period = SHORTEST_PERIOD_SECONDS
        due = _next_due(due, period, link.clock())
        await sleep(due - link.clock())


def _heed_cancellation() -> None:
    """Be cancelled even where an adapter let that go by.

    `asyncio.wait_for` does so up to Python 3.11 when what it waits for comes at that very moment,
    and pymodbus waits for each reply with it: of eight stops at the moment of a read, three were
    lost (measured).
    """
    task = asyncio.current_task()
    if task is not None and task.cancelling():
        raise asyncio.CancelledError


def _next_due(due: float, period: float, now: float) -> float:
    """The first time of the grid after `now`, at least one period after `due`."""
    return due + period * max(1, math.floor((now - due) / period) + 1)


async def _close(adapter: Adapter) -> None:
    """Close, come what may: a device that cannot be closed is left to its fate."""
    with contextlib.suppress(Exception):
        async with asyncio.timeout(LONGEST_WAIT_SECONDS):
            await adapter.close()


def _reason(fault: Exception, adapter: Adapter) -> str:
    if isinstance(fault, LinkError | SettingsError):
        return " ".join(str(fault).split()) or "no reason given"
    if isinstance(fault, TimeoutError):
        return f"the adapter of {adapter.name} did not answer in time"
    words = " ".join(str(fault).split())[:200]
    return f"fault in the adapter of {adapter.name}: {type(fault).__name__}: {words}".rstrip(": ")
