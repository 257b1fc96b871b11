"""Everything that is followed over hours and days of one bank, looked at once a minute.

Each follower is a small room in a file of its own; this one holds them, gives each its minute, and
keeps the few figures of the charge filter that the tables ask for.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank
from monitor.engine.balance import Balance
from monitor.engine.charge_course import ChargeCourse
from monitor.engine.compensation_slope import CompensationSlope
from monitor.engine.depth import Depth
from monitor.engine.disagreement import Disagreement
from monitor.engine.float_current import FloatCurrent
from monitor.engine.minute import Minute
from monitor.engine.sharing import Sharing
from monitor.engine.shunt_scale import ShuntScale
from monitor.engine.standing_draw import StandingDraw
from monitor.engine.sunny_days import SunnyDays
from monitor.engine.unseen import Unseen

#: A draw is worth telling from this on, in C20: a half percent empties a bank in eight days.
STANDING_RATE: Final = 0.005


class Followed:
    """The followers of one bank; `capacity` usable over labelled, `offset` in amps, each with its
    standard deviation; `fulls` how often full was reached."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "balance",
        "course",
        "depth",
        "disagreement",
        "draw",
        "float_current",
        "scale",
        "sharing",
        "slope",
        "sun",
        "unseen",
        "capacity",
        "capacity_sd",
        "offset",
        "offset_sd",
        "fulls",
        "_full",
    )
    __slots__ = KEPT

    def __init__(self, bank: Bank) -> None:
        self.balance = Balance(bank)
        self.course = ChargeCourse(bank)
        self.depth = Depth(bank)
        self.disagreement = Disagreement(bank)
        self.draw = StandingDraw(bank, STANDING_RATE)
        self.float_current = FloatCurrent(bank)
        self.scale = ShuntScale(bank)
        self.sharing = Sharing()
        self.slope = CompensationSlope(bank)
        self.sun = SunnyDays()
        self.unseen = Unseen(bank)
        self.capacity = 1.0
        self.capacity_sd = 1.0
        self.offset = 0.0
        self.offset_sd = 1.0
        self.fulls = 0
        self._full: float | None = None

    def look(self, minute: Minute, shifted_cell: float) -> None:
        """`shifted_cell`: volts per cell, moved to 25 °C by the compensation that is told."""
        self.capacity, self.capacity_sd = minute.capacity, minute.capacity_sd
        self.offset, self.offset_sd = minute.offset, minute.offset_sd
        if minute.last_full is not None and minute.last_full != self._full:
            self._full = minute.last_full
            self.fulls += 1
        self.course.look(minute, shifted_cell)
        self.depth.look(minute)
        self.draw.look(minute)
        self.float_current.look(minute)
        self.scale.look(minute)
        self.sharing.look(minute)
        self.slope.look(minute)
        self.sun.look(minute)
        self.unseen.look(minute)
