"""Run a scenario: what the devices say, and beside it what is true.

    for inputs, truth in simulate(scenario): ...

`inputs` are values of `adapters.reading`, in order of time across the whole run: at second 0 one
`Tick` with the wall clock's offset, then links and readings as each device is polled. One pair
for each step of the physics. The same scenario always gives the same pairs.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from functools import partial
from math import inf

from adapters.reading import Input, Tick
from replay.coach.faults import FAULTS
from replay.coach.figures import look_at
from replay.coach.plant import Plant
from replay.coach.scenario import Onset, Scenario
from replay.coach.truth import Truth, Witness

#: Faults that grow are moved on this often: slow against every step, fine against every growth.
_FAULT_SECONDS = 30.0


def simulate(scenario: Scenario) -> Iterator[tuple[tuple[Input, ...], Truth]]:
    """Every step of the scenario: inputs that arrive until the next step, and the truth."""
    plant = Plant(scenario)
    yield from run(plant)


def run(plant: Plant) -> Iterator[tuple[tuple[Input, ...], Truth]]:
    """The same for a plant already built, which the caller may look into between steps."""
    scenario = plant.scenario
    witness = Witness(plant)
    for device in plant.devices:
        device.wire(partial(look_at, plant))
    step = scenario.step_seconds
    faults = _Faults(scenario.faults)
    commands = deque(scenario.commands)
    arriving = scenario.new_bank
    first: list[Input] = [Tick(0.0, scenario.start_unix)]
    for _ in range(round(scenario.hours * 3600.0 / step)):
        faults.at(plant)
        if arriving is not None and plant.seconds >= arriving.hours * 3600.0:
            plant.replace_bank(arriving.bank)
            arriving = None
        plant.step()
        inputs = first
        first = []
        if plant.wall_offsets:
            inputs.extend(Tick(plant.seconds, offset) for offset in plant.wall_offsets)
            plant.wall_offsets.clear()
        until = plant.seconds + step
        while commands and commands[0].seconds < until:
            inputs.append(commands.popleft())
        for device in plant.devices:
            device.poll(until, inputs)
        inputs.sort(key=_moment)
        yield tuple(inputs), witness.see(faults.active)


class _Faults:
    """The scenario's faults and when each begins; `active` are those that have begun."""

    def __init__(self, onsets: tuple[Onset, ...]) -> None:
        self._onsets = [(FAULTS[onset.name], _seconds(onset)) for onset in onsets]
        self._next_look = 0.0 if onsets else inf
        self.active: tuple[str, ...] = ()

    def at(self, plant: Plant) -> None:
        """Turn the knobs of every fault that has begun."""
        now = plant.seconds
        if now < self._next_look:
            return
        self._next_look = now + _FAULT_SECONDS
        begun = [(fault, now - start) for fault, start in self._onsets if now >= start]
        for fault, since in begun:
            fault.apply(plant, since / 3600.0)
        self.active = tuple(fault.name for fault, _ in begun)


def _moment(value: Input) -> float:
    return value.seconds


def _seconds(onset: Onset) -> float:
    hours = FAULTS[onset.name].onset_hours if onset.hours is None else onset.hours
    return hours * 3600.0
