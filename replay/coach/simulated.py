"""A scenario as a recording that is made while it plays: nothing on disk, nothing to wait for.

What was simulated is kept, so that going back costs nothing and gives the same inputs again.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace

from adapters.reading import Input
from replay.coach.recording import header_of
from replay.coach.scenario import Scenario
from replay.coach.simulate import simulate


class SimulatedRecording:
    """Plays like a capture of the same scenario (`replay.recording.Recording`)."""

    def __init__(self, scenario: Scenario, config: str | None = None) -> None:
        """`config` stands in for the configuration that its owner would have written."""
        header = header_of(scenario)
        self.header = header if config is None else replace(header, config=config)
        self.start = 0.0
        self.end = scenario.hours * 3600.0
        self._steps = simulate(scenario)
        self._made: list[tuple[Input, ...]] = []

    @property
    def title(self) -> str:
        return self.header.title

    def inputs(self) -> Iterator[Input]:
        """From the beginning; several may run side by side."""
        for place in itertools.count():
            if place == len(self._made):
                step = next(self._steps, None)
                if step is None:
                    return
                self._made.append(step[0])
            yield from self._made[place]
