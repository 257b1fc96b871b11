"""Run a scenario: what the devices say, and beside it what is true.

    for inputs, truth in simulate(scenario): ...

`inputs` are values of `adapters.reading`, in order of time across the whole run: at second 0 one
`Tick` with the wall clock's offset, then links and readings as each device is polled. One pair
for each step of the physics. The same scenario always gives the same pairs.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from adapters.reading import Input, Tick
from replay.coach.faults import FAULTS
from replay.coach.figures import look_at
from replay.coach.plant import Plant
from replay.coach.scenario import Scenario
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
    onsets = [
        (FAULTS[onset.name], _onset_seconds(onset.hours, FAULTS[onset.name].onset_hours))
        for onset in scenario.faults
    ]
    active: tuple[str, ...] = ()
    next_look = 0.0
    first: list[Input] = [Tick(0.0, scenario.start_unix)]
    for _ in range(round(scenario.hours * 3600.0 / step)):
        if onsets and plant.seconds >= next_look:
            next_look = plant.seconds + _FAULT_SECONDS
            begun = [(fault, plant.seconds - at) for fault, at in onsets if plant.seconds >= at]
            for fault, since in begun:
                fault.apply(plant, since / 3600.0)
            active = tuple(fault.name for fault, _ in begun)
        plant.step()
        inputs = first
        first = []
        if plant.wall_offsets:
            inputs.extend(Tick(plant.seconds, offset) for offset in plant.wall_offsets)
            plant.wall_offsets.clear()
        until = plant.seconds + step
        for device in plant.devices:
            device.poll(until, inputs)
        inputs.sort(key=_moment)
        yield tuple(inputs), witness.see(active)


def _moment(value: Input) -> float:
    return value.seconds


def _onset_seconds(given: float | None, usual: float) -> float:
    return (usual if given is None else given) * 3600.0
