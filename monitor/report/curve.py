"""The charge as the capture has it: volts, amps, temperature, stage and set-points over time.

Taken while the recording goes through the engine for the last time, so that what is plotted is what
was judged. `Curve` takes figures in one by one and keeps only the lowest and highest of each bin,
however long the recording is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple

from adapters.reading import Input, Reading
from monitor.engine.engine import Engine

#: Bins across a page: finer than a printer shows at 17 cm is of no use (about 0.5 mm each).
BINS: Final = 340
QUANTITIES: Final = ("volts", "amps", "celsius")


class Ends(NamedTuple):
    low: float
    high: float


class Bin(NamedTuple):
    """A stretch of time. `stage` is the one it was in most of the readings."""

    volts: Ends | None = None
    amps: Ends | None = None
    celsius: Ends | None = None
    stage: str | None = None
    absorption: float | None = None
    float_: float | None = None


class Curve:
    """`start`, `end` in feed seconds; `wall_offset` the newest one known."""

    def __init__(self, start: float, end: float, bins: int = BINS) -> None:
        self.start = start
        self.end = max(end, start + 1.0)
        self.wall_offset: float | None = None
        self._width = (self.end - start) / bins
        self._ends: list[dict[str, Ends]] = [{} for _ in range(bins)]
        self._stages: list[Counter[str]] = [Counter() for _ in range(bins)]
        self._levels: list[tuple[float | None, float | None]] = [(None, None)] * bins
        self._newest = -1

    def watch(self, inputs: Iterable[Input], engine: Engine, bank: str) -> Iterator[Input]:
        """The same inputs, each looked at once the engine has taken it in."""
        for value in inputs:
            yield value
            if isinstance(value, Reading):
                self._look(engine, bank)

    def _look(self, engine: Engine, bank: str) -> None:
        now = engine.glance(bank)
        place = self._place(now.seconds)
        ends = self._ends[place]
        for name in QUANTITIES:
            figure = getattr(now, name)
            if figure is not None:
                had = ends.get(name, Ends(figure, figure))
                ends[name] = Ends(min(had.low, figure), max(had.high, figure))
        if now.stage is not None:
            self._stages[place][now.stage.value] += 1
        if place > self._newest:
            self._newest = place
            snapshot = engine.snapshot()
            self.wall_offset = snapshot.wall_offset
            view = next(each for each in snapshot.banks if each.id == bank).set_points
            self._levels[place] = (view.absorption.figure, view.float_.figure)

    def _place(self, seconds: float) -> int:
        return min(max(int((seconds - self.start) / self._width), 0), len(self._ends) - 1)

    @property
    def edges(self) -> tuple[float, ...]:
        return tuple(self.start + self._width * n for n in range(len(self._ends) + 1))

    @property
    def bins(self) -> tuple[Bin, ...]:
        rows = zip(self._ends, self._stages, self._levels, strict=True)
        return tuple(
            Bin(
                ends.get("volts"),
                ends.get("amps"),
                ends.get("celsius"),
                stages.most_common(1)[0][0] if stages else None,
                *levels,
            )
            for ends, stages, levels in rows
        )
