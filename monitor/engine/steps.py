"""What a sudden step of the current says: is the shunt the right way round, has a cell died?

When the current into a sound bank jumps up, its voltage jumps up too (Ohm). A shunt wired backwards
turns that round at every step. A cell that shorts takes its voltage with it at once while the
current into the bank does not fall.
"""

from __future__ import annotations

from itertools import pairwise
from typing import ClassVar, Final

from monitor.bank import Bank, Chemistry

#: Steps that vote: at least this fraction of C20 (well above noise and a hunting generator)...
STEP_RATE: Final = 0.02
#: ...answered by at least this, in volts per cell (four times a coarse meter's noise; a tenth of
#: what a new bank's resistance gives).
STEP_PER_CELL: Final = 0.004
#: Good votes beyond this do not count: a shunt can be turned round later.
MOST_TRUST: Final = 2
MOST_DOUBT: Final = -6
#: A full LFP bank tapers within minutes, in large steps all of them down, while its posts still
#: rise to the source's voltage: steps the same way within so long count once. A shunt wired
#: backwards is doubted both ways, and again later.
TAPER_SECONDS: Final = 600.0
#: A dead cell takes at least this share of its nominal voltage at once (physics: all of it, less
#: what the others gain from more current).
DEAD_SHARE: Final = 0.4
#: What a sound cell may lose at once when a source lets go of it, the current being small before
#: and after (common practice: 2.25 V in float, 2.20 V a moment later).
LET_GO_PER_CELL: Final = 0.05
#: The current must not have fallen by more than this fraction of C20 meanwhile.
SAME_RATE: Final = 0.005
#: What a sound cell sags by under load at most, in volts per C20 (an old and cold one).
SAG_PER_RATE: Final = 0.5
#: Confirmed when, this long after, the bank still takes more or still stands lower.
CONFIRM_SECONDS: Final = 30.0
CELL_VOLTS: Final = {True: 2.0, False: 3.2}


class StepVotes:
    """`trust` counts steps answered the right way round less those answered the wrong way;
    `dead_cell` is set when a cell's voltage was lost at once, and confirmed."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "trust",
        "dead_cell",
        "volts_before",
        "amps_before",
        "volts_after",
        "rest_volts",
        "_doubted",
        "_since_doubt",
        "_waiting",
    )
    __slots__ = (*KEPT, "_ampere_hours", "_cells", "_chemistry", "_dead_volts")

    def __init__(self, bank: Bank) -> None:
        self._cells = bank.cells
        self._chemistry = bank.chemistry
        self._ampere_hours = bank.amp_hours
        cell_volts = CELL_VOLTS[bank.chemistry.lead]
        self._dead_volts = max(DEAD_SHARE * cell_volts, LET_GO_PER_CELL * bank.cells)
        self.trust = 0
        self.dead_cell = False
        self.volts_before = 0.0
        self.amps_before = 0.0
        self.volts_after = 0.0
        #: Where a sound bank, as full as this one is at least, would stand at rest.
        self.rest_volts: float | None = None
        #: Which way the current went at the last step that was answered the wrong way, 0 for none,
        #: and the seconds since.
        self._doubted = 0
        self._since_doubt = 0.0
        #: Seconds since a drop that is not yet confirmed; None where there is none.
        self._waiting: float | None = None

    def step(
        self,
        volts_before: float,
        amps_before: float,
        volts: float,
        amps: float,
        elapsed: float,
    ) -> None:
        """Compare two neighbouring ten-second means."""
        more_amps = amps - amps_before
        more_volts = volts - volts_before
        self._since_doubt += elapsed
        if self._waiting is not None:
            self._confirm(volts, amps, elapsed)
        elif self._may_be_dead(volts, amps, more_volts, more_amps):
            self.volts_before = volts_before
            self.amps_before = amps_before
            self.volts_after = volts
            self._waiting = 0.0
        elif abs(more_amps) >= STEP_RATE * self._ampere_hours:
            self._vote(more_amps, more_volts)

    def _may_be_dead(self, volts: float, amps: float, more_volts: float, more_amps: float) -> bool:
        """Did the voltage fall as far as when a cell dies, the current not falling?"""
        return (
            not self.dead_cell
            and self.trust >= 0  # a shunt in doubt cannot tell that the current did not fall
            and more_volts < -self._dead_volts
            and more_amps > -SAME_RATE * self._ampere_hours
            and self._below_rest(volts, amps)
        )

    def _below_rest(self, volts: float, amps: float) -> bool:
        """Lower than a sound bank could fall, however high a source had driven it before.

        A source that lets go in absorption lets the voltage fall as far and as fast as a dead
        cell does, but never below rest. (In a 48 V bank the two overlap: half-bank or cell
        voltages are needed there.)
        """
        if self.rest_volts is None:
            return False
        sag = SAG_PER_RATE * self._cells * min(0.0, amps / self._ampere_hours)
        return volts < self.rest_volts + sag

    def expect(self, soc: float, soc_sd: float) -> None:
        """Once a minute: how full the bank is at least."""
        self.rest_volts = self._cells * _rest_per_cell(self._chemistry, soc - 2.0 * soc_sd)

    def _vote(self, more_amps: float, more_volts: float) -> None:
        if abs(more_volts) < STEP_PER_CELL * self._cells:
            return
        way = 1 if more_amps > 0.0 else -1
        if (more_amps > 0.0) == (more_volts > 0.0):
            self.trust = min(MOST_TRUST, self.trust + 1)
            self._doubted = 0
        elif way != self._doubted or self._since_doubt > TAPER_SECONDS:
            self.trust = max(MOST_DOUBT, self.trust - 1)
            self._doubted = way
            self._since_doubt = 0.0

    def _confirm(self, volts: float, amps: float, elapsed: float) -> None:
        """Some time after a drop: was it a cell, or only a sensor's slip?"""
        self.volts_after = min(self.volts_after, volts)
        waited = (self._waiting or 0.0) + elapsed
        self._waiting = waited
        if waited < CONFIRM_SECONDS:
            return
        self._waiting = None
        lower = volts < self.volts_before - 0.5 * self._dead_volts
        thirsty = amps > self.amps_before + STEP_RATE * self._ampere_hours
        kept = amps > self.amps_before - SAME_RATE * self._ampere_hours
        self.dead_cell = thirsty or (lower and kept)

    def forget_candidate(self) -> None:
        """Nothing was seen for a while: what was waiting cannot be confirmed any more."""
        self._waiting = None

    def look(self, volts: float, amps: float) -> None:
        """Once a minute: a bank that stands as high as before, on as little current, is sound."""
        if (
            self.dead_cell
            and volts > self.volts_before - 0.1 * self._dead_volts
            and amps < self.amps_before + SAME_RATE * self._ampere_hours
        ):
            self.dead_cell = False


def _rest_per_cell(chemistry: Chemistry, soc: float) -> float:
    """Volts of a rested cell this full, from the chemistry's table."""
    curve = chemistry.rest_volts
    if soc <= curve[0][0]:
        return curve[0][1]
    for (low_soc, low), (high_soc, high) in pairwise(curve):
        if soc <= high_soc:
            return low + (soc - low_soc) / (high_soc - low_soc) * (high - low)
    return curve[-1][1]
