"""What the people aboard switch on: a table of habits, each a seeded list of times.

    steady    on for the whole run, within `hours` of the day
    cycling   on for `minutes_on`, off for `minutes_off`, both varied by a third (fridge, furnace)
    evening   once a day, from the first hour for about the window's length (lights, screen)
    bursts    `times_a_day` at random moments within `hours`, `minutes_on` each (pump, microwave)
    given     exactly at `at`: (hours since the start, minutes)

Hours of the day are by the sun; the list is made before the run starts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import inf
from random import Random
from typing import Final, NamedTuple

from replay.coach.models import LoadModel


class Spell(NamedTuple):
    """On from `start` to `end`, in seconds since the start."""

    start: float
    end: float


def _steady(load: LoadModel, hour: float, seconds: float, _: Random) -> Iterator[Spell]:
    if load.hours[1] - load.hours[0] >= 24.0:
        yield Spell(0.0, inf)
        return
    for start, end in _windows(load, hour, seconds):
        yield Spell(start, end)


def _cycling(load: LoadModel, hour: float, seconds: float, random: Random) -> Iterator[Spell]:
    for start, end in _windows(load, hour, seconds):
        now = start + random.random() * load.minutes_off * 60.0
        while now < end:
            on = load.minutes_on * 60.0 * random.uniform(0.67, 1.33)
            yield Spell(now, min(now + on, end))
            now += on + load.minutes_off * 60.0 * random.uniform(0.67, 1.33)


def _evening(load: LoadModel, hour: float, seconds: float, random: Random) -> Iterator[Spell]:
    for start, end in _windows(load, hour, seconds):
        begins = start + random.uniform(-0.5, 0.5) * 3600.0
        yield Spell(begins, begins + (end - start) * random.uniform(0.75, 1.1))


def _bursts(load: LoadModel, hour: float, seconds: float, random: Random) -> Iterator[Spell]:
    for start, end in _windows(load, hour, seconds):
        now = start
        apart = (end - start) / max(load.times_a_day, 0.01)
        while True:
            now += random.expovariate(1.0 / apart)
            if now >= end:
                break
            yield Spell(now, now + load.minutes_on * 60.0 * random.uniform(0.5, 1.5))


def _given(load: LoadModel, hour: float, seconds: float, random: Random) -> Iterator[Spell]:
    del hour, seconds, random
    for at_hours, minutes in load.at:
        yield Spell(at_hours * 3600.0, at_hours * 3600.0 + minutes * 60.0)


HABITS: Final[dict[str, Callable[[LoadModel, float, float, Random], Iterator[Spell]]]] = {
    "steady": _steady,
    "cycling": _cycling,
    "evening": _evening,
    "bursts": _bursts,
    "given": _given,
}


def _windows(load: LoadModel, hour: float, seconds: float) -> Iterator[tuple[float, float]]:
    """The load's hours on every day of the run; a window may run past midnight."""
    first, last = load.hours
    length = (last - first if last > first else last - first + 24.0) * 3600.0
    start = (first - hour) * 3600.0 - 86400.0
    while start < seconds:
        if start + length > 0.0:
            yield start, start + length
        start += 86400.0


class Loads:
    """Total watts through and past the shunt, moment by moment, in order of time."""

    def __init__(
        self, models: tuple[LoadModel, ...], solar_hour: float, seconds: float, seed: str
    ) -> None:
        steps: list[tuple[float, float, bool]] = []
        for model in models:
            random = Random(f"{seed}/{model.name}")
            for start, end in HABITS[model.habit](model, solar_hour, seconds, random):
                if end > max(start, 0.0):
                    steps.append((max(start, 0.0), model.watts, model.hidden))
                    steps.append((end, -model.watts, model.hidden))
        self._steps = sorted(steps)
        self._next = 0
        self._next_at = self._steps[0][0] if steps else inf
        self.watts = 0.0
        self.hidden_watts = 0.0
        self.standing_watts = 0.0
        self.more = 1.0

    def at(self, seconds: float) -> None:
        """Move on to this moment."""
        while seconds >= self._next_at:
            _, watts, hidden = self._steps[self._next]
            if hidden:
                self.hidden_watts = _settled(self.hidden_watts + watts)
            else:
                self.watts = _settled(self.watts + watts)
            self._next += 1
            more = self._next < len(self._steps)
            self._next_at = self._steps[self._next][0] if more else inf


def _settled(watts: float) -> float:
    """Sums of switched watts, without what rounding leaves behind."""
    return watts if abs(watts) > 1e-6 else 0.0
