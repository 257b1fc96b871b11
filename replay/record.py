"""Recording any adapters into a capture, with no engine and no screen.

    devices ── adapters ── supervise ──► Recorder ──► CaptureWriter

The loss of a link goes to disk at once, since it is often the last thing before the power goes,
and so does a person's command, which cannot be had again. Everything else waits for the writer's
interval. A disk that refuses stops nothing: see `Recorder.trouble`.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from typing import Final

from adapters.adapter import Adapter, Frame
from adapters.reading import Command, Input, LinkState, Reading, Tick
from adapters.supervise import Sleep, supervise
from replay.writer import CaptureWriter, Closing

#: A tick tells that time went on; it is a second without a reading (design).
TICK_SECONDS: Final = 1.0

#: A wall clock that moved against the steady clock by more than this was set; drift and the
#: jitter of two reads are far smaller.
CLOCK_JUMP_SECONDS: Final = 0.5

Clock = Callable[[], float]


class Recorder:
    """Takes inputs and raw frames into a capture, and decides what must be on disk at once."""

    def __init__(self, writer: CaptureWriter) -> None:
        self._writer = writer
        self._latest: float | None = None

    @property
    def trouble(self) -> str | None:
        """One line while rows cannot be written, None while all is well."""
        return self._writer.trouble

    def take(self, value: Input) -> None:
        self._writer.append(value)
        self._latest = value.seconds
        if isinstance(value, Command | LinkState):
            self._writer.commit()

    def frames_of(self, device: str, clock: Clock) -> Callable[[bool, bytes], None]:
        """Where an adapter's raw bytes go: the second argument of its factory."""

        def take(sent: bool, data: bytes) -> None:
            self._writer.frame(Frame(clock(), device, sent, data))

        return take

    def quiet_since(self, seconds: float) -> bool:
        """Whether nothing was taken for a tick's time, so that a tick is due."""
        return self._latest is None or seconds - self._latest >= TICK_SECONDS

    def close(self) -> Closing:
        return self._writer.close()


async def record(
    adapters: Sequence[Adapter],
    recorder: Recorder,
    clock: Clock,
    wall_clock: Clock,
    *,
    seconds: float | None = None,
    sleep: Sleep = asyncio.sleep,
) -> None:
    """Records every adapter until cancelled, or for so many seconds of `clock`.

    `wall_clock` gives Unix time; it is only ever compared with `clock`. The recorder is left open.
    """

    def emit(value: Reading | LinkState) -> None:
        recorder.take(value)

    began = clock()
    async with asyncio.TaskGroup() as group:
        devices = [
            group.create_task(supervise(adapter, clock, emit, sleep=sleep)) for adapter in adapters
        ]
        offset: float | None = None
        while seconds is None or clock() - began < seconds:
            now, wall = clock(), wall_clock()
            if offset is None or abs(wall - now - offset) > CLOCK_JUMP_SECONDS:
                offset = wall - now
                recorder.take(Tick(now, offset))
            elif recorder.quiet_since(now):
                recorder.take(Tick(now))
            await sleep(TICK_SECONDS)
        for device in devices:
            device.cancel()
