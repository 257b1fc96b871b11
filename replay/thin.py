"""One reading a minute: what a recording becomes when it is old.

For every device and minute of the recording's own time one reading, at the time of the last one,
each figure the mean of those there were, so that what was counted stays counted; of words the last.
Everything else that entered (links, commands, news of the clock) stays as it was. Ticks that tell
nothing but the time, and raw frames, go.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Final

from adapters.adapter import Frame
from adapters.reading import Channel, Input, Reading, Tick
from replay.rows import Recorded

MINUTE_SECONDS: Final = 60.0


class _Minute:
    """The readings of one device in one minute."""

    __slots__ = ("counts", "last", "seconds", "sums", "words")

    def __init__(self) -> None:
        self.seconds = 0.0
        self.sums: dict[Channel, float] = {}
        self.counts: dict[Channel, int] = {}
        self.words: dict[Channel, str] = {}

    def add(self, reading: Reading) -> None:
        self.seconds = reading.seconds
        for channel, figure in reading.values:
            if isinstance(figure, str):
                self.words[channel] = figure
            elif math.isfinite(figure):
                self.sums[channel] = self.sums.get(channel, 0.0) + figure
                self.counts[channel] = self.counts.get(channel, 0) + 1

    def reading(self, device: str) -> Reading:
        means = [(channel, total / self.counts[channel]) for channel, total in self.sums.items()]
        return Reading(self.seconds, device, (*means, *self.words.items()))


def thinned(recorded: Iterable[Recorded]) -> Iterator[Input]:
    """The inputs of a recording, thinned; in order of time as they were."""
    open_minutes: dict[str, _Minute] = {}
    minute = -math.inf

    def closed() -> Iterator[Reading]:
        given = sorted(open_minutes.items(), key=lambda item: item[1].seconds)
        open_minutes.clear()
        yield from (each.reading(device) for device, each in given)

    for value in recorded:
        if isinstance(value, Frame) or (isinstance(value, Tick) and value.wall_offset is None):
            continue
        now = math.floor(value.seconds / MINUTE_SECONDS) if math.isfinite(value.seconds) else minute
        if now != minute or not isinstance(value, Reading):
            yield from closed()
            minute = now
        if isinstance(value, Reading):
            open_minutes.setdefault(value.device, _Minute()).add(value)
        else:
            yield value
    yield from closed()
