"""Devices as the wire shows them: noise, steps, offsets, silence, glitches.

Each device is polled in its own rhythm, so that a run looks like several devices and not like
one table. A reading carries what stood at the posts at the step before its moment. What a device
cannot tell is left out of the reading.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from typing import Final

from adapters.reading import Channel, Input, LinkState, Quantity, Reading
from replay.coach.models import DeviceModel, SensorModel

#: A device counts as gone after this many missed polls (as the adapters do it).
_MISSED_POLLS: Final = 3

#: Gives the present true figure of a channel.
Look = Callable[[], float | str | None]


def _nothing() -> None:
    return None


class Sensor:
    """One figure of one device. Faults turn `offset`, `scale`, `noise`, `missing`, `stuck`."""

    def __init__(self, model: SensorModel, bank: str) -> None:
        self.model = model
        self.channel = Channel(model.owner or bank, Quantity(model.quantity))
        self.offset = model.offset
        self.scale = model.scale
        self.noise = model.noise
        self.missing = False
        self.stuck = False
        self.look: Look = _nothing
        self._last: float | str | None = None

    def read(self, random: Random) -> float | str | None:
        """What the device tells now; None where it tells nothing."""
        if self.missing:
            return None
        if self.stuck and self._last is not None:
            return self._last
        value = self.look()
        if isinstance(value, float):
            seen = value * self.scale + self.offset
            if self.noise:
                seen += random.gauss(0.0, self.noise)
            step = self.model.step
            value = round(round(seen / step) * step, 5)
        self._last = value
        return value


class Device:
    """A device and its link. Faults turn `silent`, `gaps` and `glitches` (shares of polls)."""

    def __init__(self, model: DeviceModel, bank: str, seed: str) -> None:
        self.model = model
        self.name = model.name
        self.sensors = [Sensor(sensor, bank) for sensor in model.sensors]
        self.silent = False
        self.gaps = 0.0
        self.glitches = 0.0
        self._random = Random(seed)
        self._due = model.phase_seconds
        self._missed = 0
        self._up = False

    def wire(self, look_at: Callable[[Quantity, str], Look]) -> None:
        """Connect every sensor to what it measures."""
        for sensor in self.sensors:
            sensor.look = look_at(sensor.channel.quantity, sensor.channel.owner)

    def sensor(self, quantity: str) -> list[Sensor]:
        """This device's sensors of one quantity, mostly one or none."""
        return [sensor for sensor in self.sensors if sensor.model.quantity == quantity]

    def poll(self, until: float, out: list[Input]) -> None:
        """Everything that falls due before `until`, in order."""
        while self._due < until:
            seconds = round(self._due, 3)
            self._due += self.model.period_seconds
            lost = self.silent or (self.gaps and self._random.random() < self.gaps)
            if lost:
                self._miss(seconds, out)
                continue
            if not self._up:
                reason = "answers again" if self._missed else "opened"
                out.append(LinkState(seconds, self.name, True, reason))
                self._up = True
            self._missed = 0
            out.append(self._read(seconds))

    def _miss(self, seconds: float, out: list[Input]) -> None:
        self._missed += 1
        if self._up and self._missed == _MISSED_POLLS:
            self._up = False
            reason = f"no answer to {_MISSED_POLLS} polls"
            out.append(LinkState(seconds, self.name, False, reason))

    def _read(self, seconds: float) -> Reading:
        random = self._random
        values: list[tuple[Channel, float | str]] = []
        for sensor in self.sensors:
            value = sensor.read(random)
            if value is not None:
                values.append((sensor.channel, value))
        if self.glitches and values and random.random() < self.glitches:
            position = random.randrange(len(values))
            channel, value = values[position]
            if isinstance(value, float):
                values[position] = (channel, random.choice((0.0, value * 10.0, -value)))
        return Reading(seconds, self.name, tuple(values))
