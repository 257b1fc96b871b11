"""How well the configured devices are heard: from a kept state, or by polling each a few times.

A kept state tells what a running program has learned of its links until it was written. Polling
opens the devices, so a port that another program reads is refused, and said so.
"""

from __future__ import annotations

import asyncio
import contextlib
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from adapters.adapter import Adapter, LinkError, LinkLost, SettingsError, unheard
from adapters.poll_result import polled
from monitor.config import Config, DeviceConfig
from monitor.link_counts import unasked
from monitor.mishaps import Refusal, in_one_line

if TYPE_CHECKING:
    from monitor.engine.snapshot import LinkView

#: No device waits longer between polls here: a slow one would hold everybody up (our choice).
_LONGEST_WAIT_SECONDS = 1.0

#: An adapter that has not answered after this long is stuck; its own limits are far below.
_STUCK_SECONDS = 60.0


@dataclass(frozen=True, slots=True)
class Tried:
    """What polling a device a few times brought. Seconds of an answer: median and worst, None
    where there was none or the device speaks `unasked`. `error` is the last one in words, empty
    where there was none."""

    polls: int
    lost: int
    median_seconds: float | None
    worst_seconds: float | None
    error: str
    remark: str
    unasked: bool = False


@dataclass(frozen=True, slots=True)
class Kept:
    """The links as a state holds them, and for how long it has lain there."""

    links: tuple[LinkView, ...]
    old_seconds: float


def kept_links(config: Config, path: Path, wall: float) -> Kept:
    """The links in a state file; `Refusal` where it is none, or another bank's."""
    from monitor.engine.engine import Engine
    from monitor.engine.whose_state import StateError
    from monitor.kept_state import UnusableStateError, load_state

    try:
        kept = load_state(path)
        if kept is None:
            raise Refusal(f"{path}: expected a state file, found none; check the name")
        links = Engine(config.site, kept.engine).snapshot().links
    except (UnusableStateError, StateError) as error:
        raise Refusal(f"{path}: {error}; name the file that watch --state writes") from None
    return Kept(links, max(0.0, wall - kept.wall))


async def tried(
    device: DeviceConfig, polls: int, clock: Callable[[], float] = time.monotonic
) -> Tried:
    """Open a device and poll it so many times, at its own period. Never raises for the device."""
    try:
        adapter = device.build(unheard)
    except SettingsError as fault:
        return Tried(0, 0, None, None, in_one_line(fault)[0], "")
    try:
        async with asyncio.timeout(_STUCK_SECONDS):
            await adapter.open()
            return await _polled(adapter, device, polls, clock)
    except TimeoutError:
        return Tried(0, 0, None, None, f"no answer within {_STUCK_SECONDS:g} s", "")
    except Exception as fault:
        return Tried(0, 0, None, None, in_one_line(fault)[0], "")
    finally:
        with contextlib.suppress(Exception):
            await adapter.close()


async def _polled(
    adapter: Adapter, device: DeviceConfig, polls: int, clock: Callable[[], float]
) -> Tried:
    took: list[float] = []
    speaks = unasked(adapter)
    done, error = 0, ""
    for number in range(polls):
        if number:
            await asyncio.sleep(min(device.period_seconds, _LONGEST_WAIT_SECONDS))
        began = clock()
        done += 1
        try:
            await polled(adapter)
        except LinkLost as fault:
            error = in_one_line(fault)[0]
            break
        except LinkError as fault:
            error = in_one_line(fault)[0]
        else:
            took.append(clock() - began)
    median = statistics.median(took) if took and not speaks else None
    worst = None if speaks else max(took, default=None)
    remark = str(getattr(adapter, "remark", ""))
    return Tried(done, done - len(took), median, worst, error, remark, speaks)
