"""Is the bank empty too soon? What was drawn since full, against what its voltage says is gone.

Only where the two can be compared: lead-acid, from full down without a charge between, under a
small load or none, not in the cold, by a third at least. The rest-voltage tables of one chemistry
differ by a tenth of a charge, so that a single comparison is worth little; two discharges that
both say so are worth telling.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank, rest_soc
from monitor.engine.minute import Minute

#: A cell under load stands lower by this, volts for one C20 (physics: a new bank's 0.15 V, an hour
#: of polarisation as much again).
SAG: Final = 0.3
SMALL_RATE: Final = 0.025
#: Surface charge is gone after so much was drawn since the last charge, C20 (common practice).
SETTLED: Final = 0.05
FOLLOW_SECONDS: Final = 3600.0
COLD_CELSIUS: Final = 10.0
#: Depth by voltage and by amp-hours from which the comparison counts: the sag under a small load is
#: worth a tenth of a charge on a bank of high resistance. And charge between that ends it, C20.
LEAST_DEPTH: Final = 0.3
LEAST_DRAWN: Final = 0.15
CHARGED: Final = 0.01
#: Discharges that must agree.
AGREEING: Final = 2


class Depth:
    """`ratios` of drawn over gone, one for each deep discharge, newest last; `drawn` since full."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "ratios",
        "drawn",
        "deepest",
        "_full",
        "_known",
        "_cell",
        "_back",
        "_ratio",
    )
    __slots__ = (*KEPT, "_amp_hours", "_cells", "_chemistry", "_standing")

    def __init__(self, bank: Bank) -> None:
        self._amp_hours = bank.amp_hours
        self._cells = bank.cells
        self._chemistry = bank.chemistry
        self._standing = bank.standing_amps or 0.0
        self.ratios: list[float] = []
        self.drawn = 0.0
        self.deepest = 0.0
        self._full: float | None = None
        self._known = False
        self._cell: float | None = None
        self._back = 0.0
        self._ratio: float | None = None

    def look(self, minute: Minute) -> None:
        if not self._chemistry.lead:
            return
        if minute.last_full != self._full:
            self._full = minute.last_full
            self._close()
            self._known = True
        if not self._known:
            return
        rate = (minute.amps - minute.offset) / self._amp_hours
        if rate > 0.0:
            # what still goes in after full belongs to it; later it is a charge
            self._back = self._back + rate * minute.hours if self.drawn > SETTLED else 0.0
            if self._back > CHARGED:
                self._close()
            return
        self.drawn += (self._standing / self._amp_hours - rate) * minute.hours
        cold = minute.celsius is not None and minute.celsius < COLD_CELSIUS
        if rate < -SMALL_RATE:
            self._cell = None  # it recovers for a while from a larger load
        if rate < -SMALL_RATE or self.drawn < SETTLED or cold:
            return
        cell = minute.volts / self._cells - SAG * rate
        if self._cell is None:
            self._cell = cell
        gain = minute.elapsed / (minute.elapsed + FOLLOW_SECONDS)
        self._cell += gain * (cell - self._cell)
        gone = 1.0 - rest_soc(self._chemistry, self._cell)
        if gone >= LEAST_DEPTH and gone > self.deepest and self.drawn >= LEAST_DRAWN:
            self.deepest = gone
            self._ratio = self.drawn / gone

    def _close(self) -> None:
        """A discharge is over, or full was reached again."""
        if self._ratio is not None:
            self.ratios.append(self._ratio)
            del self.ratios[:-AGREEING]
        self._known = False
        self.drawn = self.deepest = self._back = 0.0
        self._cell = self._ratio = None

    @property
    def share(self) -> float | None:
        """The share of the label that the last deep discharges agree on at most."""
        last = [*self.ratios, self._ratio] if self._ratio is not None else self.ratios
        last = last[-AGREEING:]
        return None if len(last) < AGREEING else max(r for r in last if r is not None)
