"""What devices show of a bank's cells: the highest, the lowest, the coldest, the warmest.

A device that watches cells tells its extremes, or every cell by its number; either will do. Looked
up every ten seconds, None where nobody shows it or the last figure is stale.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import ClassVar, Final

from adapters.reading import Quantity
from monitor.engine.align import BankAlignment
from monitor.engine.device import Slot

#: The pace is averaged over this: cells are shown in millivolts, every ten to thirty seconds.
PACE_SECONDS: Final = 90.0
#: Looks further apart have nothing between them.
NEIGHBOURS_SECONDS: Final = 30.0

Pick = Callable[[Iterable[float]], float]


class CellFigures:
    """Volts and °C of the cells that stand out; `pace` of the highest, volts a second."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "highest_volts",
        "lowest_volts",
        "coldest",
        "warmest",
        "pace",
        "_seconds",
    )
    __slots__ = KEPT

    def __init__(self) -> None:
        self.highest_volts: float | None = None
        self.lowest_volts: float | None = None
        self.coldest: float | None = None
        self.warmest: float | None = None
        self.pace = 0.0
        self._seconds = 0.0

    def look(self, given: BankAlignment, now: float) -> None:
        """The figures as they stand at `now`."""
        slots = given.slots
        volts = given.cells[Quantity.CELL_VOLTS]
        celsius = given.cells[Quantity.CELL_CELSIUS]
        before = self.highest_volts
        self.highest_volts = _extreme(slots[Quantity.HIGHEST_CELL_VOLTS], volts, now, max)
        self._follow(before, now)
        self.lowest_volts = _extreme(slots[Quantity.LOWEST_CELL_VOLTS], volts, now, min)
        self.coldest = _extreme(slots[Quantity.LOWEST_CELL_CELSIUS], celsius, now, min)
        self.warmest = _extreme(slots[Quantity.HIGHEST_CELL_CELSIUS], celsius, now, max)

    def _follow(self, before: float | None, now: float) -> None:
        """How fast the highest cell climbs, averaged over a minute or two."""
        elapsed = now - self._seconds
        self._seconds = now
        highest = self.highest_volts
        if highest is None or before is None or not 0.0 < elapsed <= NEIGHBOURS_SECONDS:
            self.pace = 0.0
            return
        share = elapsed / (elapsed + PACE_SECONDS)
        self.pace += share * ((highest - before) / elapsed - self.pace)


def _extreme(told: Slot, cells: dict[int, Slot], now: float, pick: Pick) -> float | None:
    """As the device tells it, else of the cells it shows one by one."""
    if told.givens:
        figure = told.number(now)
        if figure is not None:
            return figure
    if not cells:
        return None
    figures = [f for f in (slot.number(now) for slot in cells.values()) if f is not None]
    return pick(figures) if figures else None
