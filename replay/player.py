"""A recording that plays: at any rate, with pause, seek and step, and no clock of its own.

Whoever plays it says what time it is: `due(now)` gives the inputs whose turn has come. Whatever
the rate, the pauses and the steps, the inputs come in the order of the recording and none is left
out, so that an engine fed by them gives the same answers every time.

Position is time inside the recording. A row that stands behind a later one (a table with times out
of order) is due together with it, since the order of the file is the order of what happened.

Seeking forward hands out everything in between. Seeking back begins the recording anew and hands
out everything up to the place sought; `generation` rises then, which tells the feed to build its
engine anew from the state in the header.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from adapters.reading import Input, Reading
from replay.played_device import device
from replay.rate import checked_rate
from replay.recording import Recording

__all__ = ["MOST_AT_ONCE", "Player", "device"]

#: Inputs handed out at once unless told otherwise: some tens of milliseconds of the engine's time,
#: so that a screen can still be drawn while a long stretch is caught up.
MOST_AT_ONCE: Final = 500


class Player:
    """Plays a `Recording`. Begins to run at the first call of `due`."""

    def __init__(self, recording: Recording, rate: float = 1.0) -> None:
        self.recording = recording
        self.generation = 0
        self._rate = checked_rate(rate)
        self._paused = False
        self._asked_at: float | None = None
        self._steps = 0
        self._stepped_from = -math.inf
        self._position = -math.inf
        self._turn = -math.inf
        self._start, self._end = recording.start, recording.end
        self._begin()

    @property
    def start(self) -> float:
        return self._start

    @property
    def end(self) -> float:
        return self._end

    @property
    def position(self) -> float:
        """Seconds inside the recording, as of the last call of `due`."""
        return self._position

    @property
    def paused(self) -> bool:
        return self._paused

    @property
    def rate(self) -> float:
        """Recorded seconds a second; infinite for as fast as they are taken."""
        return self._rate

    @property
    def finished(self) -> bool:
        """Everything was handed out."""
        return self._next is None

    @property
    def catching_up(self) -> bool:
        """More inputs are due at once than were handed out: ask again without waiting."""
        return self._next is not None and self._turn <= self._position

    def pause(self) -> None:
        self._paused = True

    def resume(self) -> None:
        self._paused = False
        self._steps = 0

    def set_rate(self, rate: float) -> None:
        """From the next call of `due` on. Raises `ValueError` for a rate not above zero."""
        self._rate = checked_rate(rate)

    def seek(self, seconds: float) -> None:
        """To a place in the recording; beyond its ends means to that end."""
        if math.isnan(seconds):
            raise ValueError("seek: expected seconds inside the recording, found nan")
        sought = min(max(seconds, self._start), self._end)
        if sought < self._position:
            self.generation += 1
            self._begin()
        self._position = sought
        self._steps = 0

    def step(self) -> None:
        """Pauses, and lets the next reading pass with whatever stands before it or with it."""
        self._paused = True
        if not self._steps:
            self._stepped_from = self._position
        self._steps += 1

    def due(self, now: float, most: int = MOST_AT_ONCE) -> list[Input]:
        """The inputs whose turn has come at `now` (any steady clock), at most so many of them.

        Time that passes while paused, or between the calls of an unlimited rate, does not count.
        """
        self._advance(now)
        inputs: list[Input] = []
        while self._next is not None and len(inputs) < most:
            if self._turn > self._position:
                if not self._steps and (self._paused or math.isfinite(self._rate)):
                    break
                self._position = self._turn
            inputs.append(self._take(self._next))
        return inputs

    def wait_seconds(self) -> float | None:
        """How long until the next input is due, after the last `due`; None while nothing will be
        (paused, or at the end)."""
        if self._next is None:
            return None
        if self.catching_up or self._steps:
            return 0.0
        if self._paused:
            return None
        return (self._turn - self._position) / self._rate

    def _begin(self) -> None:
        self._inputs: Iterator[Input] = self.recording.inputs()
        self._position = self._start
        self._turn = -math.inf
        self._load()

    def _load(self) -> None:
        self._next = next(self._inputs, None)
        if self._next is None:
            self._steps = 0
        else:
            self._turn = max(self._turn, self._next.seconds)

    def _take(self, taken: Input) -> Input:
        if self._steps and isinstance(taken, Reading) and self._turn > self._stepped_from:
            self._steps -= 1
            self._stepped_from = self._turn
        self._load()
        return taken

    def _advance(self, now: float) -> None:
        """Moves the position on by the time since the last call, unless inputs are still due."""
        since, self._asked_at = self._asked_at, now
        if since is None or self._paused or self.catching_up or math.isinf(self._rate):
            return
        ahead = self._position + max(0.0, now - since) * self._rate
        self._position = max(self._position, min(ahead, self._end))
