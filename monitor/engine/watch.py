"""What the conditions look at: one bank, averaged over ten seconds, a minute and five minutes.

A condition must not start from one noisy reading, and a dozen of them at every reading would cost
more than the stage filter. So readings are only added up here; every ten seconds of readings the
fast figures are worked out, every minute the slow ones, every five minutes a bin of the last two
hours is closed. Voltages that end in `_per_cell` are per cell, rates are amps over ampere-hours.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank, compensated
from monitor.engine.cell_figures import CellFigures
from monitor.engine.celsius_trust import CelsiusTrust
from monitor.engine.cut_off import DischargeCut
from monitor.engine.followed import Followed
from monitor.engine.gassing import Gassing
from monitor.engine.held_current import HeldCurrent
from monitor.engine.sides import Sides
from monitor.engine.signal import GAP_SECONDS
from monitor.engine.snapshot import Stage
from monitor.engine.steps import StepVotes
from monitor.engine.warmth import Warmth

FAST_SECONDS: Final = 10.0
SLOW_SECONDS: Final = 60.0
#: Two means this far apart in time are neighbours; further apart something is missing between.
NEIGHBOURS_SECONDS: Final = 30.0
#: Of a device that is polled more slowly, so many of its own periods: a poll that came late by half
#: is a neighbour, a lost one leaves something missing (our choice).
NEIGHBOURS_PERIODS: Final = 1.5
#: Another stage for this long ends the count of hours in absorption: shorter is a passing load.
OTHER_STAGE_SECONDS: Final = 600.0
#: A rate this small is no charging or discharging worth the name (engine: -0.002 C is discharge).
IDLE_RATE: Final = 0.002
#: A stage is taken for sure from this chance on.
SURE: Final = 0.8


class BankWatch:
    """One bank under watch. `hold`, `votes`, `cut`, `cell`, `warmth`, `gassing`, `sides`
    and `followed` are rooms of their own."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "seconds",
        "volts",
        "amps",
        "celsius",
        "read_celsius",
        "could_be",
        "leap",
        "room",
        "ambient",
        "soc",
        "soc_sd",
        "stage",
        "probability",
        "charge_permitted",
        "discharge_permitted",
        "rise",
        "absorption_seconds",
        "equalize_seconds",
        "since_full",
        "celsius_missing",
        "celsius_same",
        "celsius_kept",
        "charged_since_same",
        "highest",
        "highest_at",
        "hold",
        "votes",
        "cut",
        "cell",
        "warmth",
        "gassing",
        "sides",
        "followed",
        "minute_volts",
        "minute_amps",
        "idle_seconds",
        "_sum_volts",
        "_sum_amps",
        "_sum_count",
        "_next_fast",
        "_next_slow",
        "_slow_volts",
        "_slow_amps",
        "_slow_count",
        "_other_seconds",
        "_judged",
    )
    __slots__ = (*KEPT, "bank", "cells")

    def __init__(self, bank: Bank) -> None:
        self.bank = bank
        self.cells = bank.cells
        self.seconds: float | None = None
        self.volts = 0.0
        self.amps = 0.0
        #: °C that can be judged by; None where none is measured or it is not to be believed.
        self.celsius: float | None = None
        #: °C as read, whether believed or not.
        self.read_celsius: float | None = None
        #: °C where the bank was last believed to be, within `room`; by how much the reading leapt.
        self.could_be: float | None = None
        self.room = 0.0
        self.leap: float | None = None
        self.ambient: float | None = None
        self.soc: float | None = None
        self.soc_sd: float | None = None
        self.stage: str | None = None
        self.probability = 0.0
        self.charge_permitted: bool | None = None
        self.discharge_permitted: bool | None = None
        #: Volts by which the highest source stands above the posts; None where not measured.
        self.rise: float | None = None
        self.absorption_seconds = 0.0
        self.equalize_seconds = 0.0
        self.since_full = 0.0
        #: Seconds without a temperature; None where there never was one.
        self.celsius_missing: float | None = None
        self.celsius_same = 0.0
        self.celsius_kept: float | None = None
        self.charged_since_same = 0.0
        #: Highest volts per cell that anything asks for now; worked out as the temperature moves.
        self.highest = highest_per_cell(self)
        self.highest_at: float | None = None
        self.hold = HeldCurrent(bank)
        self.votes = StepVotes(bank)
        self.cut = DischargeCut(bank)
        self.followed = Followed(bank)
        #: Means of the last minute.
        self.minute_volts = 0.0
        self.minute_amps = 0.0
        self.cell = CellFigures()
        self.warmth = Warmth()
        self.gassing = Gassing()
        self.sides = Sides()
        #: Nothing worth the name has flowed for so long.
        self.idle_seconds = 0.0
        self._sum_volts = 0.0
        self._sum_amps = 0.0
        self._sum_count = 0
        self._next_fast = 0.0
        self._next_slow = 0.0
        self._slow_volts = 0.0
        self._slow_amps = 0.0
        self._slow_count = 0
        self._other_seconds = 0.0
        self._judged = 0.0

    # What the tables ask.

    @property
    def volts_per_cell(self) -> float:
        return self.volts / self.cells

    @property
    def rate(self) -> float:
        """Net current as a fraction of the labelled ampere-hours; charging is positive."""
        return self.amps / self.bank.amp_hours

    @property
    def coldest(self) -> float | None:
        """°C of the coldest thing that is measured of the bank."""
        cell = self.cell.coldest
        if cell is None or self.celsius is None:
            return self.celsius if cell is None else cell
        return min(cell, self.celsius)

    @property
    def warmest(self) -> float | None:
        """°C of the warmest thing that is measured of the bank."""
        cell = self.cell.warmest
        if cell is None or self.celsius is None:
            return self.celsius if cell is None else cell
        return max(cell, self.celsius)

    def compensated_per_cell(self, volts: float, mv: float, lean: int = 0) -> float:
        """A set-point of the whole bank at 25 °C, per cell at the bank's temperature.

        Where that is not known, but was: as high as it may be by now (`lean` 1), as low (-1), or
        at the last temperature believed.
        """
        given = self.bank.set_points.compensation_celsius
        clamp = given if given is not None else self.bank.chemistry.compensation_celsius
        celsius = self.celsius
        if celsius is None and self.could_be is not None:
            celsius = self.could_be - lean * self.room  # cold asks for more
        return compensated(volts, celsius, mv, self.cells, clamp) / self.cells

    @property
    def compensation_mv(self) -> float:
        given = self.bank.set_points.compensation_mv_per_celsius_per_cell
        return given if given is not None else self.bank.chemistry.compensation_mv.typical

    # Readings in.

    def take_celsius(
        self, seconds: float, read: float | None, believed: float | None, trust: CelsiusTrust
    ) -> None:
        """The temperature as read, what may be judged by, and what is known where there is none."""
        self.read_celsius = read
        self.celsius = believed if read is not None and trust.trusted else None
        self.leap = None if read is None else trust.leap
        self.could_be, self.room = trust.could_be, trust.room(seconds)

    def add(self, seconds: float, volts: float, amps: float) -> bool:
        """Add a reading; True where ten seconds are full and `close` is due."""
        self._sum_volts += volts
        self._sum_amps += amps
        self._sum_count += 1
        return seconds >= self._next_fast

    def close(self, seconds: float, period: float = 0.0) -> float:
        """Work out the last ten seconds' means; the seconds since the means before, at most thirty
        or what the `period` of its devices explains (`neighbours`).

        Longer than that the bank was not seen, and what was not seen must not count as held.
        """
        before = self.seconds
        elapsed = 0.0 if before is None else seconds - before
        count = self._sum_count
        volts = self._sum_volts / count
        amps = self._sum_amps / count
        self._sum_volts = self._sum_amps = 0.0
        self._sum_count = 0
        if before is not None:
            if elapsed <= NEIGHBOURS_SECONDS:
                self.votes.step(self.volts, self.amps, volts, amps, elapsed)
            else:
                self.votes.forget_candidate()
                self.cut.forget()
        self.cut.look(volts, amps)
        self.seconds = seconds
        self.volts = volts
        self.amps = amps
        self._slow_volts += volts
        self._slow_amps += amps
        self._slow_count += 1
        self._next_fast = seconds + FAST_SECONDS
        elapsed = min(elapsed, neighbours(period))
        self._judged += elapsed
        return elapsed

    def minute_due(self) -> bool:
        seconds = self.seconds
        return seconds is not None and seconds >= self._next_slow

    def minute(self, seconds: float) -> float:
        """Work out what changes slowly, from a minute's means; the judged seconds since before."""
        elapsed = self._judged
        self._judged = 0.0
        count = self._slow_count
        self.minute_volts = volts = self._slow_volts / count
        self.minute_amps = amps = self._slow_amps / count
        self._slow_volts = self._slow_amps = 0.0
        self._slow_count = 0
        self._next_slow = seconds + SLOW_SECONDS
        self.since_full += elapsed
        self._count_stages(elapsed)
        self._watch_sensor(amps, elapsed)
        floats = self.stage == Stage.FLOAT and self.probability >= SURE
        floats = floats and self.celsius == self.read_celsius
        self.warmth.look(seconds, self.read_celsius, self.ambient, floats)
        self.gassing.look(seconds, volts / self.cells, self.celsius, elapsed)
        idle = -IDLE_RATE < amps / self.bank.amp_hours < IDLE_RATE
        self.idle_seconds = self.idle_seconds + elapsed if idle else 0.0
        self.hold.add(seconds, volts, amps, self.celsius)
        self.votes.look(volts, amps)
        if self.soc is not None and self.soc_sd is not None:
            self.votes.expect(self.soc, self.soc_sd)
        return elapsed

    def full(self) -> None:
        self.since_full = 0.0

    def _count_stages(self, elapsed: float) -> None:
        stage = self.stage
        if stage == Stage.EQUALIZE or self.followed.course.says_equalize:
            self.equalize_seconds += elapsed
        else:
            self.equalize_seconds = 0.0
        if stage == Stage.ABSORPTION:
            self.absorption_seconds += elapsed
            self._other_seconds = 0.0
        elif self.absorption_seconds:
            self._other_seconds += elapsed
            if self._other_seconds > OTHER_STAGE_SECONDS:
                self.absorption_seconds = 0.0
                self._other_seconds = 0.0

    def _watch_sensor(self, amps: float, elapsed: float) -> None:
        """Is the temperature there, and does it ever move?"""
        if self.celsius is None:
            self.highest = highest_per_cell(self)  # what it may be widens
        celsius = self.read_celsius
        if celsius is None:
            if self.celsius_missing is not None:
                self.celsius_missing += elapsed
            return
        self.celsius_missing = 0.0
        if celsius == self.celsius_kept:
            self.celsius_same += elapsed
            if amps > 0.0:
                self.charged_since_same += amps * elapsed / 3600.0 / self.bank.amp_hours
        else:
            self.celsius_kept = celsius
            self.celsius_same = 0.0
            self.charged_since_same = 0.0
        if self.celsius is not None and self.celsius != self.highest_at:
            self.highest_at = self.celsius
            self.highest = highest_per_cell(self)


def neighbours(period: float) -> float:
    """Two looks this far apart have nothing missing between them, at a poll every `period`; what is
    a gap to the signal is one here too."""
    return min(max(NEIGHBOURS_SECONDS, NEIGHBOURS_PERIODS * period), GAP_SECONDS)


def highest_per_cell(watch: BankWatch) -> float:
    """The highest volts per cell that the chemistry or the owner's set-points ask for.

    Compensated with the coefficient that allows most, since it is not always known.
    """
    chemistry = watch.bank.chemistry
    given = watch.bank.set_points
    cells = watch.cells
    highest = chemistry.absorption.high
    if chemistry.equalize is not None:
        highest = chemistry.equalize.high
    for volts in (given.absorption, given.equalize):
        if volts is not None:
            highest = max(highest, volts / cells)
    span = chemistry.compensation_mv
    coefficients = {span.low, span.high, watch.compensation_mv}
    return max(watch.compensated_per_cell(highest * cells, mv, 1) for mv in coefficients)
