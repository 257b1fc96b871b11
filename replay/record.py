"""Recording: what to put on disk at once, and what may wait for the next commit.

A person's command and the loss of a link go to disk at once: the first cannot be had again, the
second is often the last thing that happens before the power goes. Whoever steps the engine calls
`commit` at a stage change or an alarm. Everything else waits for the writer's interval.
"""

from __future__ import annotations

from collections.abc import Callable

from adapters.adapter import Frame
from adapters.reading import Command, Input, LinkState
from replay.writer import CaptureWriter, Closing

Clock = Callable[[], float]


class Recorder:
    """Takes inputs and raw frames into a capture. The disk never stops it: see `trouble`."""

    def __init__(self, writer: CaptureWriter) -> None:
        self.writer = writer

    @property
    def trouble(self) -> str | None:
        """One line while rows cannot be written, None while all is well."""
        return self.writer.trouble

    def take(self, value: Input) -> None:
        self.writer.append(value)
        if isinstance(value, Command | LinkState):
            self.writer.commit()

    def frames_of(self, device: str, clock: Clock) -> Callable[[bool, bytes], None]:
        """Where an adapter's raw bytes go: the second argument of its factory."""

        def take(sent: bool, data: bytes) -> None:
            self.writer.frame(Frame(clock(), device, sent, data))

        return take

    def commit(self) -> None:
        """Something happened that must survive a power cut."""
        self.writer.commit()

    def close(self) -> Closing:
        return self.writer.close()
