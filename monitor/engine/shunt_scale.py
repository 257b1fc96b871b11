"""Do the shunt and the sources' own meters agree on how much an amp is?

While a source holds its voltage loads come and go without the bank noticing: what the bank takes
tapers, and the source's own current tapers with it, amp for amp, however much the loads draw beside
it. So in absorption, between one switching of a load and the next, the slope of the sources'
current against the shunt's is one. Where it is two, the shunt reads half. Many stretches together
make it.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank
from monitor.engine.minute import Minute
from monitor.engine.snapshot import Stage

#: Minutes after absorption began, and minutes of a stretch.
SKIPPED: Final = 3
LEAST_MINUTES: Final = 6
MOST_MINUTES: Final = 60
#: What the current must have moved by within a stretch, in C20, and by how much it moves in a
#: minute where a load was switched (a taper: a factor e in an hour or more).
LEAST_FALL: Final = 0.004
SWITCHED: Final = 0.005
#: What is off stays off for so many minutes: so many count as one.
ALIKE_MINUTES: Final = 5.0
#: Known when the slope is this sure, from so many minutes.
KNOWN_SD: Final = 0.05
KNOWN_MINUTES: Final = 60.0
REMEMBERED: Final = 0.98


class ShuntScale:
    """`known`: amps of the sources for one of the shunt, with its deviation; None until seen."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "_square",
        "_product",
        "_spread",
        "_count",
        "_skip",
        "_shunt",
        "_given",
    )
    __slots__ = (*KEPT, "_amp_hours")

    def __init__(self, bank: Bank) -> None:
        self._amp_hours = bank.amp_hours
        self._square = 0.0
        self._product = 0.0
        self._spread = 0.0
        self._count = 0.0
        self._skip = 0
        self._shunt: list[float] = []
        self._given: list[float] = []

    def look(self, minute: Minute) -> None:
        given = 0.0
        known = bool(minute.sources)
        for source in minute.sources:
            if source.amps is None:
                known = False
            else:
                given += source.amps
        if minute.stage != Stage.ABSORPTION or not minute.sure or not known:
            self._close()
            self._skip = SKIPPED
            return
        if self._skip > 0:
            self._skip -= 1
            return
        if self._given and abs(given - self._given[-1]) > SWITCHED * self._amp_hours:
            self._close()
            self._skip = 1
            return
        self._shunt.append(minute.amps)
        self._given.append(given)
        if len(self._shunt) >= MOST_MINUTES:
            self._close()

    def _close(self) -> None:
        shunt, given = self._shunt, self._given
        if not shunt:
            return
        self._shunt, self._given = [], []
        count = len(shunt)
        if count < LEAST_MINUTES or max(shunt) - min(shunt) < LEAST_FALL * self._amp_hours:
            return
        mean_shunt, mean_given = sum(shunt) / count, sum(given) / count
        pairs = [(s - mean_shunt, g - mean_given) for s, g in zip(shunt, given, strict=True)]
        self._square = REMEMBERED * self._square + sum(s * s for s, _ in pairs)
        self._product = REMEMBERED * self._product + sum(s * g for s, g in pairs)
        self._spread = REMEMBERED * self._spread + sum(g * g for _, g in pairs)
        self._count = REMEMBERED * self._count + count - 1.0

    @property
    def known(self) -> tuple[float, float] | None:
        if self._count < KNOWN_MINUTES or self._square <= 0.0:
            return None
        slope = self._product / self._square
        scatter = max(0.0, self._spread - slope * self._product) / self._count
        sd = float((ALIKE_MINUTES * scatter / self._square) ** 0.5)
        return (slope, sd) if sd < KNOWN_SD else None
