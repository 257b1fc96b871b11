"""How a float voltage follows the bank's temperature, over days: the slope that compensation makes.

Within one float the set-point does not change, so its volts against the temperature are a line
whose slope is the compensation. Loads pull the posts down by what the leads drop, never up: of each
hour only the highest five minutes count. Many floats together make the slope, each about its own
middle, so that a lower hold or another set-point does not matter.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank
from monitor.engine.minute import Minute
from monitor.engine.snapshot import Stage

FIVE_MINUTES: Final = 300.0
HOUR_SECONDS: Final = 3600.0
#: After float began the voltage is still on its way down for so long.
SETTLING_SECONDS: Final = 3600.0
#: An hour whose volts leave those of the hour before by so many volts a cell is another hold: no
#: temperature moves a bank's set-point so far in an hour (1 °C an hour at 6 mV).
SAME_HOLD: Final = 0.01
#: Another float is at another level.
LEAST_HOURS: Final = 3
#: An hour's best five minutes, volts per cell: meter, regulation and steps of half a degree.
HOUR_SD: Final = 0.002
#: Known when this sure, volts per cell and °C (a coefficient is -3 to -6 mV), with so many hours.
KNOWN_SD: Final = 0.0006
KNOWN_HOURS: Final = 12
#: Of what earlier floats said so much is left after another one.
REMEMBERED: Final = 0.95


class CompensationSlope:
    """`slope` in volts per cell and °C, None until known."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "_square",
        "_product",
        "_spread",
        "_count",
        "_volts",
        "_celsius",
        "_float",
        "_bin",
        "_sum_volts",
        "_sum_celsius",
        "_minutes",
        "_best_volts",
        "_best_celsius",
        "_bins",
    )
    __slots__ = (*KEPT, "_cells")

    def __init__(self, bank: Bank) -> None:
        self._cells = bank.cells
        self._square = 0.0
        self._product = 0.0
        self._spread = 0.0
        self._count = 0.0
        #: Hours of the float now.
        self._volts: list[float] = []
        self._celsius: list[float] = []
        self._float = 0.0
        self._bin = 0.0
        self._sum_volts = 0.0
        self._sum_celsius = 0.0
        self._minutes = 0
        self._best_volts = 0.0
        self._best_celsius = 0.0
        self._bins = 0

    def look(self, minute: Minute) -> None:
        if minute.stage != Stage.FLOAT or not minute.sure or minute.celsius is None:
            if minute.stage != Stage.FLOAT:
                self._close()
            return
        self._float += minute.elapsed
        if self._float < SETTLING_SECONDS:
            return
        self._sum_volts += minute.volts / self._cells
        self._sum_celsius += minute.celsius
        self._minutes += 1
        self._bin += minute.elapsed
        if self._bin >= FIVE_MINUTES:
            self._five_minutes()

    def _five_minutes(self) -> None:
        volts = self._sum_volts / self._minutes
        if self._bins == 0 or volts > self._best_volts:
            self._best_volts = volts
            self._best_celsius = self._sum_celsius / self._minutes
        self._bin = self._sum_volts = self._sum_celsius = 0.0
        self._minutes = 0
        self._bins += 1
        if self._bins * FIVE_MINUTES >= HOUR_SECONDS:
            self._hour()

    def _hour(self) -> None:
        self._bins = 0
        if self._volts and abs(self._best_volts - self._volts[-1]) > SAME_HOLD:
            self._close()
            return
        self._volts.append(self._best_volts)
        self._celsius.append(self._best_celsius)
        if len(self._volts) >= 48:
            self._close()

    def _close(self) -> None:
        """A float is over, or long enough: add its line to what is known."""
        count = len(self._volts)
        if count >= LEAST_HOURS:
            square, product, spread = self._sums()
            self._square = REMEMBERED * self._square + square
            self._product = REMEMBERED * self._product + product
            self._spread = REMEMBERED * self._spread + spread
            self._count = REMEMBERED * self._count + count - 1.0
        self._volts, self._celsius = [], []
        self._float = self._bin = self._sum_volts = self._sum_celsius = 0.0
        self._minutes = self._bins = 0

    def _sums(self) -> tuple[float, float, float]:
        """Of the float now, about its own middle: °C squared, °C by volts, volts squared."""
        volts, celsius = self._volts, self._celsius
        count = len(volts)
        if count < LEAST_HOURS:
            return 0.0, 0.0, 0.0
        mean_volts = sum(volts) / count
        mean_celsius = sum(celsius) / count
        pairs = list(zip(volts, celsius, strict=True))
        return (
            sum((c - mean_celsius) ** 2 for c in celsius),
            sum((v - mean_volts) * (c - mean_celsius) for v, c in pairs),
            sum((v - mean_volts) ** 2 for v in volts),
        )

    @property
    def known(self) -> tuple[float, float] | None:
        """The slope and its deviation, with the float now; None where nothing can be said."""
        square, product, spread = self._sums()
        square += self._square
        product += self._product
        spread += self._spread
        count = self._count + max(0.0, len(self._volts) - 1.0)
        if count < KNOWN_HOURS or square <= 0.0:
            return None
        slope = product / square
        scatter = max(0.0, spread - slope * product) / max(1.0, count - 1.0)
        # what is off stays off for hours: four hours count as one
        sd = float((4.0 * max(scatter, HOUR_SD * HOUR_SD) / square) ** 0.5)
        return (slope, sd) if sd < KNOWN_SD else None
