"""Charge that comes or goes without passing the shunt, told by the voltage.

A bank from which charge was drawn cannot be brought to a charging voltage, and kept there, without
charge going in: if the shunt shows none, something charges around it. And a bank long at rest keeps
its voltage: if it sinks and the shunt shows nothing, something draws around it, or the bank loses
charge by itself.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank
from monitor.engine.minute import Minute

#: Charging voltage: the lowest float of the chemistry, and so much above full rest at least, volts
#: per cell (physics: no rested bank stands there).
ABOVE_REST: Final = 0.05
#: The bank must have lost this share of its label by the shunt, or by its voltage this surely.
DRAWN: Final = 0.02
SURELY_EMPTY: Final = 0.10
#: Charge that went in at least while it was held there for an hour (0.5 % of what a bank takes that
#: lacks 2 %), and below the level for so long ends it.
BACK: Final = 0.001
BELOW_SECONDS: Final = 600.0
#: Resting: no more than this flows, in C20. Settled after a day (common practice: 24 h for an AGM
#: bank's surface charge).
RESTING_RATE: Final = 0.002
SETTLED_SECONDS: Final = 86400.0
FOLLOW_SECONDS: Final = 3600.0
#: Volts per cell by share of charge, from the chemistry's rest table (lead only).


class Unseen:
    """`held_hours` at a charging voltage without charge; `sunk` volts per cell beyond what the
    shunt explains, since the bank had settled at rest, None while it does not rest."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "held_hours",
        "sunk",
        "rest_hours",
        "drawn",
        "back",
        "_below",
        "_rest",
        "_mean",
        "_first",
        "_counted",
    )
    __slots__ = (*KEPT, "_amp_hours", "_cells", "_lead", "_level", "_per_charge")

    def __init__(self, bank: Bank) -> None:
        chemistry = bank.chemistry
        curve = chemistry.rest_volts
        self._amp_hours = bank.amp_hours
        self._cells = bank.cells
        self._lead = chemistry.lead
        full = curve[-1][1] if chemistry.lead else 3.36
        self._level = max(chemistry.float_.low, full + ABOVE_REST)
        self._per_charge = (curve[-1][1] - curve[0][1]) if chemistry.lead else 0.0
        self.held_hours = 0.0
        self.sunk: float | None = None
        self.rest_hours = 0.0
        self.drawn = 0.0
        self.back = 0.0
        self._below = 0.0
        self._rest = 0.0
        self._mean = 0.0
        self._first: float | None = None
        self._counted = 0.0

    def look(self, minute: Minute) -> None:
        rate = (minute.amps - minute.offset) / self._amp_hours
        cell = minute.volts / self._cells
        if cell >= self._level:
            self._high(rate, minute)
        else:
            self._low(rate, minute)
        if self._lead:
            self._sinks(rate, cell, minute)

    def _high(self, rate: float, minute: Minute) -> None:
        self._below = 0.0
        self.back += rate * minute.hours
        if self.drawn >= DRAWN:
            self.held_hours += minute.hours

    def _low(self, rate: float, minute: Minute) -> None:
        self._below += minute.elapsed
        if self._below > BELOW_SECONDS and self.held_hours + abs(self.back) > 0.0:
            self.held_hours = self.back = self.drawn = 0.0
        self.drawn = max(0.0, self.drawn - rate * minute.hours)
        surely = 1.0 - minute.soc - 2.0 * minute.soc_sd
        if surely > SURELY_EMPTY and rate < RESTING_RATE:
            self.drawn = max(self.drawn, surely)

    @property
    def charged_hours(self) -> float:
        """Hours at a charging voltage for which no charge is seen to have gone in."""
        return self.held_hours if self.back < BACK else 0.0

    def _sinks(self, rate: float, cell: float, minute: Minute) -> None:
        if not -RESTING_RATE < rate < RESTING_RATE or cell >= self._level:
            self._rest = self.rest_hours = self._counted = 0.0
            self._first = self.sunk = None
            return
        if self._rest == 0.0:
            self._mean = cell
        self._rest += minute.elapsed
        gain = minute.elapsed / (minute.elapsed + FOLLOW_SECONDS)
        self._mean += gain * (cell - self._mean)
        if self._rest < SETTLED_SECONDS:
            return
        if self._first is None:
            self._first = self._mean
        self.rest_hours += minute.hours
        self._counted += rate * minute.hours
        self.sunk = self._first - self._mean + self._per_charge * self._counted
