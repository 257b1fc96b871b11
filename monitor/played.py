"""A recording as a feed: the same screens as live, with pause, rate, seek and step.

Everything runs in the event loop of whoever shows it, in short turns, so that a long stretch is
caught up without freezing a screen. Whatever the rate, the engine gets the same inputs in the same
order, and so gives the same answers.

Going back: the engine's state is kept every so often while playing. The recording is read anew
from its beginning, which is quick; the engine steps only from the last state kept before the place.

A command given while a recording plays belongs to the place where it was given: it is not written
to the recording, but played again whenever that place is passed.
"""

from __future__ import annotations

import asyncio
import contextlib
import dataclasses
import json
import math
import time
from collections.abc import Callable
from typing import Final, NamedTuple

from adapters.reading import Command, Input
from monitor.bank import Site
from monitor.engine.state import Json
from monitor.showing import Showing
from monitor.shown import Shown
from monitor.trend import WIDEST_SECONDS
from replay.player import Player

#: The longest wait between two looks at the clock, so that a position shown keeps moving.
_LONGEST_WAIT_SECONDS: Final = 0.25

#: Inputs stepped in one turn while a long stretch is caught up: some 15 ms of the engine's time on
#: a server core (measured), perhaps five times that on a small board (from memory).
_AT_ONCE: Final = 100

#: Between two such turns: time for a screen to take a key and to paint, which needs the loop to go
#: round more than once.
_BREATH_SECONDS: Final = 0.003

#: States kept of one recording; some tens of kilobytes each.
_MOST_CHECKPOINTS: Final = 200


class Checkpoint(NamedTuple):
    """The engine before the first input at or after `seconds`, `inputs` into the recording."""

    seconds: float
    inputs: int
    state: str | None


class Checkpoints:
    """States on the way through a recording, at multiples of the trend's widest bins."""

    def __init__(self, state: Json | None, start: float, end: float) -> None:
        self.spacing = WIDEST_SECONDS * max(
            1, math.ceil((end - start) / WIDEST_SECONDS / _MOST_CHECKPOINTS)
        )
        first = json.dumps(state) if state is not None else None
        self._kept = [Checkpoint(-math.inf, 0, first)]
        self._first = math.floor(start / self.spacing + 1) * self.spacing
        self._next = self._first

    def keep(self, seconds: float, count: int, state: Callable[[], Json]) -> None:
        """To be called before each input that is stepped; keeps a state where one is due."""
        if seconds < self._next:
            return
        place = math.floor(seconds / self.spacing) * self.spacing
        self._next = place + self.spacing
        self._kept.append(Checkpoint(place, count, json.dumps(state())))

    def before(self, seconds: float) -> Checkpoint:
        """The last one at or before a time; later ones are forgotten, to be kept anew."""
        while self._kept[-1].seconds > seconds:
            self._kept.pop()
        last = self._kept[-1]
        self._next = last.seconds + self.spacing if len(self._kept) > 1 else self._first
        return last


class Played(Shown):
    """A feed from a recording. `clock` is any steady clock in seconds."""

    def __init__(
        self,
        player: Player,
        site: Site,
        state: Json | None = None,
        *,
        refresh_seconds: float = 0.25,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.site = site
        self.player = Controls(player, self)
        self.refresh_seconds = refresh_seconds
        self._player = player
        self._clock = clock
        self._showing = Showing(site, state)
        self._checkpoints = Checkpoints(state, player.start, player.end)
        self._generation = player.generation
        self._count = 0
        self._skip = 0
        self._commands: list[tuple[int, Command]] = []
        self._nudged = asyncio.Event()
        self._task: asyncio.Task[None] | None = None

    async def start(self) -> None:
        self.turn()  # so that the very first snapshot is of the place where it begins
        self._task = asyncio.create_task(self._run())

    async def stop(self) -> None:
        if self._task is not None:
            self._task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._task
            self._task = None
        self._showing.end()

    def send(self, command: Command) -> None:
        """Give the engine a command at the place where the recording now is."""
        stamped = dataclasses.replace(command, seconds=self._player.position)
        self._commands.append((self._count, stamped))
        self._checkpoints.before(self._player.position)
        self._showing.step(stamped)
        self._showing.tell()

    def nudge(self) -> None:
        """Something was asked of the player: look at it now, not after the present wait."""
        self._nudged.set()

    def turn(self) -> bool:
        """Step what is due now. True when more is due at once."""
        inputs = self._player.due(self._clock(), _AT_ONCE)
        if self._player.generation != self._generation:
            self._go_back()
        for value in inputs:
            self._take(value)
        if inputs:
            self._showing.tell()
        return self._player.catching_up or (bool(inputs) and self._player.wait_seconds() == 0.0)

    @property
    def finished(self) -> bool:
        return self._player.finished

    async def _run(self) -> None:
        while True:
            self._nudged.clear()
            if self.turn():
                await asyncio.sleep(_BREATH_SECONDS)
                continue
            wait = self._player.wait_seconds()
            limit = None if wait is None else min(wait, _LONGEST_WAIT_SECONDS)
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(limit):
                    await self._nudged.wait()

    def _go_back(self) -> None:
        """The player began anew: take up the last state before the place it plays towards."""
        self._generation = self._player.generation
        kept = self._checkpoints.before(self._player.position)
        self._showing.rewind(None if kept.state is None else json.loads(kept.state), kept.seconds)
        self._count, self._skip = 0, kept.inputs
        if not kept.inputs:
            self._repeat_commands()

    def _take(self, value: Input) -> None:
        if self._count < self._skip:
            self._count += 1
            return
        self._checkpoints.keep(value.seconds, self._count, self._showing.state)
        self._showing.step(value)
        self._count += 1
        self._repeat_commands()

    def _repeat_commands(self) -> None:
        for count, command in self._commands:
            if count == self._count:
                self._showing.step(command)


class Controls:
    """The player, as screens may use it: whatever is asked takes effect at once."""

    def __init__(self, player: Player, played: Played) -> None:
        self._player = player
        self._played = played

    @property
    def start(self) -> float:
        return self._player.start

    @property
    def end(self) -> float:
        return self._player.end

    @property
    def position(self) -> float:
        return self._player.position

    @property
    def paused(self) -> bool:
        return self._player.paused

    @property
    def rate(self) -> float:
        return self._player.rate

    @property
    def catching_up(self) -> bool:
        return self._player.catching_up

    def pause(self) -> None:
        self._player.pause()
        self._played.nudge()

    def resume(self) -> None:
        self._player.resume()
        self._played.nudge()

    def set_rate(self, rate: float) -> None:
        self._player.set_rate(rate)
        self._played.nudge()

    def seek(self, seconds: float) -> None:
        self._player.seek(seconds)
        self._played.nudge()

    def step(self) -> None:
        self._player.step()
        self._played.nudge()
