"""Are the parts of a bank equally full? Its two halves, or its highest and lowest cell.

Averaged over minutes, since a load between two figures of one poll would pass for a difference.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank

FOLLOW_SECONDS: Final = 600.0
#: LFP cells are on the flat part of their curve between these, volts (1.6 mV for a percent there);
#: outside a difference of a few percent shows as tenths of a volt, and balancing works there.
FLAT: Final = (3.15, 3.38)
#: A current above this, C20, spreads sound cells by their resistances.
QUIET_RATE: Final = 0.2


class Balance:
    """`halves` upper less lower half, volts per cell; `cells` highest less lowest, in volts, with
    `highest` and `lowest`; None where not shown. `flat`: cells are where charge hardly shows."""

    KEPT: ClassVar[tuple[str, ...]] = ("halves", "upper", "lower", "cells", "highest", "lowest")
    __slots__ = (*KEPT, "_half_cells")

    def __init__(self, bank: Bank) -> None:
        self._half_cells = bank.cells / 2.0
        self.halves: float | None = None
        self.upper = 0.0
        self.lower = 0.0
        self.cells: float | None = None
        self.highest = 0.0
        self.lowest = 0.0

    def look_at_halves(self, elapsed: float, lower: float | None, upper: float | None) -> None:
        if lower is None or upper is None:
            self.halves = None
            return
        self.upper, self.lower = upper, lower
        self.halves = _followed(self.halves, (upper - lower) / self._half_cells, elapsed)

    def look_at_cells(self, elapsed: float, lowest: float | None, highest: float | None) -> None:
        if lowest is None or highest is None:
            self.cells = None
            return
        self.highest, self.lowest = highest, lowest
        self.cells = _followed(self.cells, highest - lowest, elapsed)

    @property
    def flat(self) -> bool:
        return self.lowest > FLAT[0] and self.highest < FLAT[1]


def _followed(mean: float | None, figure: float, elapsed: float) -> float:
    if mean is None:
        return figure
    return mean + (figure - mean) * elapsed / (elapsed + FOLLOW_SECONDS)
