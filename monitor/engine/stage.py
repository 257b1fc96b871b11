"""What the source is doing to the bank: a hidden-Markov filter over the seven stages.

One forward step a reading: chances of change (`_expect`), then evidence (`scores`), then what was
seen is remembered (`hold`). Probabilities, since when, and the reasons a person can read.
"""

from __future__ import annotations

from math import exp
from typing import ClassVar, Final

from monitor.bank import Bank, Source
from monitor.engine.features import Features
from monitor.engine.hold import Memory
from monitor.engine.scores import FORGIVEN, Scores
from monitor.engine.setpoints import SetPoints
from monitor.engine.signal import Signal
from monitor.engine.snapshot import Fact, SetPointView, Stage, StageView
from monitor.engine.stage_evidence import explain
from monitor.engine.stage_order import (
    ABSORPTION,
    BULK,
    DISCHARGE,
    EQUALIZE,
    FIXED,
    FLOAT,
    REST,
    STAGES,
)
from monitor.engine.taper import Taper

#: Seconds that one look at the features is worth: about twice the fast average's span.
LOOK: Final = 15.0
MOST_LOOKS: Final = 3.0
FLOOR: Final = 1e-7
#: Resting amps this near nothing refine the sensor's zero, C20; more may be a standing load.
NEAR_ZERO: Final = 0.001
#: Bulk and a fixed source on its way up look alike: an hour forgets this many times which it was.
MIX: Final = 10.0
#: A stage this improbable is left even when nothing else is probable enough.
GONE: Final = 0.05
#: Amps or slope of volts in deviations that show a source taking up a resting bank.
PUSHED: Final = 1.5
#: Fraction of charge from which sources float (they end absorption a few percent early).
FILLED: Final = 0.955
CHOOSE: Final = 0.6


class StageFilter:
    """The stage of one bank's sources.

    `stage`, `since` (monotonic seconds), `probabilities` in the order of `Stage`; `regulating` the
    chance that a source holds a voltage now; `set_points` distributions; `features`, `memory`,
    `taper` for whoever looks ahead: `taper_seconds` and `taper_floor` (amps) of this or the last
    held voltage, None until seen; `hold_volts` the voltage aimed for now, None where none is.
    """

    __slots__ = (
        "_amp_hours",
        "_next",
        "features",
        "memory",
        "probabilities",
        "regulating",
        "scores",
        "set_points",
        "since",
        "stage",
        "started",
        "taper",
    )
    KEPT: ClassVar[tuple[str, ...]] = (
        "features",
        "memory",
        "probabilities",
        "regulating",
        "set_points",
        "since",
        "stage_name",
        "started",
        "taper",
    )

    def __init__(self, bank: Bank, sources: tuple[Source, ...]) -> None:
        self._amp_hours = bank.amp_hours
        self._next = [0.0] * 7
        self.features = Features(bank)
        self.set_points = SetPoints(bank)
        self.memory = Memory(bank.set_points.absorption is not None, sources)
        self.scores = Scores(bank)
        belief = 1.0 / (1.0 + exp(-self.memory.fixed_odds))
        self.probabilities = [1.0 / 7.0] * 7
        self.probabilities[BULK] = (1.0 - belief) / 6.0
        self.probabilities[FIXED] = belief / 6.0
        self.regulating = 0.0
        self.stage = Stage.REST
        self.since = 0.0
        self.started = False
        self.taper = Taper()

    @property
    def stage_name(self) -> str:
        """The chosen stage as plain text, for the saved state."""
        return self.stage.value

    @stage_name.setter
    def stage_name(self, name: str) -> None:
        self.stage = Stage(name)

    @property
    def taper_seconds(self) -> float | None:
        return self.taper.seconds

    @property
    def taper_floor(self) -> float | None:
        """Amps."""
        return None if self.taper.floor is None else self.taper.floor * self._amp_hours

    @property
    def hold_volts(self) -> float | None:
        level = {
            Stage.ABSORPTION: self.set_points.absorption,
            Stage.FLOAT: self.set_points.float_,
            Stage.FIXED: self.set_points.fixed,
        }.get(self.stage)
        if level is None:
            return None
        return (level.mean + self.features.shift) * self.set_points.cells

    def view(self) -> StageView:
        """The stage with its evidence, for whoever looks; built when looked at."""
        facts: tuple[Fact, ...] = ()
        if self.started:
            facts = explain(
                self.stage,
                self.since,
                self.features,
                self.set_points,
                self.memory,
                self._amp_hours,
                self.probabilities,
            )
        return StageView(
            self.stage,
            self.probabilities[STAGES.index(self.stage)],
            tuple(self.probabilities),
            self.since,
            facts,
        )

    def set_points_view(self, celsius: float | None) -> SetPointView:
        return self.set_points.view(celsius)

    def update(self, signal: Signal, soc: float, soc_sd: float) -> bool:
        f = self.features
        f.update(signal, self.set_points)
        filled = self._filled(soc, soc_sd)
        self.scores.update(f, self.set_points, self.memory, filled)
        elapsed = signal.elapsed
        if elapsed <= 0.0:
            elapsed = LOOK
        self._expect(elapsed if elapsed < 1200.0 else 1200.0, filled)
        looks = elapsed / LOOK
        if looks > MOST_LOOKS:
            looks = MOST_LOOKS
        p = self.probabilities
        ahead = self._next
        now = self.scores.now
        best = max(now)
        total = 0.0
        for k in range(7):
            chance = ahead[k] * exp((now[k] - best) * looks)
            p[k] = chance
            total += chance
        scale = 1.0 / total
        top = 0.0
        chosen = 0
        for k in range(7):
            chance = p[k] * scale
            if chance < FLOOR:
                chance = FLOOR
            p[k] = chance
            if chance > top:
                top = chance
                chosen = k
        self.regulating = p[ABSORPTION] + p[FLOAT] + p[EQUALIZE] + p[FIXED]
        f.unheld = self.regulating < 0.5
        self.memory.update(p, f, self.set_points, elapsed, self.scores.floats)
        if p[ABSORPTION] + p[FIXED] > 0.9:
            self.taper.update(elapsed, f.amps, signal.long.slope_amps / self._amp_hours)
        elif self.regulating < 0.1:
            if p[BULK] > 0.9:
                self.taper.clear()
            f.learn_ohm(signal)
            if p[REST] > 0.95 and -NEAR_ZERO < f.amps + f.zero < NEAR_ZERO:
                f.learn_zero(f.amps + f.zero, elapsed, 0.0003)
        if STAGES[chosen] is not self.stage and (
            top > CHOOSE or not self.started or p[STAGES.index(self.stage)] < GONE
        ):
            self.stage = STAGES[chosen]
            self.since = signal.seconds
            self.started = True
            return True
        self.started = True
        return False

    def _filled(self, soc: float, soc_sd: float) -> float:
        """The chance that the bank is so full that a source may float it."""
        if self.memory.lost < FORGIVEN:
            return 1.0
        return 1.0 / (1.0 + exp(min((FILLED - soc) / (0.01 + 0.3 * soc_sd), 50.0)))

    def _expect(self, h: float, filled: float) -> None:
        """Chances before the evidence: who may follow whom, and how soon."""
        memory = self.memory
        hour = h / 3600.0
        belief = 1.0 / (1.0 + exp(-memory.fixed_odds))
        r, d, u, a, f, e, x = self.probabilities
        start = (r + 2.0 * d) * hour
        # a source that takes up a resting bank pushes: amps or volts go up
        seen = self.features
        pushed = 1.0 if seen.sigmas > PUSHED or seen.rise_sigmas > PUSHED else 0.05
        floated = (r * pushed + 2.0 * d) * hour
        fresh = start * (1.0 - filled * 0.9)
        # absorption that has tapered ends in float, one cut short seldom does
        ended = 3.0 if memory.lost == 0.0 else 0.3
        emptied = 10.0 * hour * (1.0 - filled)
        mixed = MIX * hour * belief
        staged = MIX * hour * (1.0 - belief)
        out = self._next
        to_rest = d + 0.5 * (u + x) + 0.3 * f + 0.2 * (a + e)
        to_discharge = 3.0 * r + 2.0 * u + a + f + x + 0.2 * e
        out[REST] = r * (1.0 - 5.0 * hour) + to_rest * hour
        out[DISCHARGE] = d * (1.0 - 3.5 * hour) + to_discharge * hour
        out[BULK] = (
            u * (1.0 - 5.0 * hour - mixed)
            + fresh * (1.0 - belief)
            + (2.0 * a + 0.5 * f + 0.2 * e) * hour
            + x * staged
            + f * emptied
        )
        out[ABSORPTION] = a * (1.0 - (3.5 + ended) * hour) + (u + 0.5 * d + 0.2 * (f + e)) * hour
        out[FLOAT] = (
            f * (1.0 - 2.0 * hour - emptied)
            + (ended * a + e) * hour
            + filled * (floated + u * hour)
        )
        out[EQUALIZE] = e * (1.0 - 1.8 * hour) + (0.2 * a + 0.1 * f + 0.05 * u) * hour
        out[FIXED] = x * (1.0 - 1.5 * hour - staged) + fresh * belief + u * mixed
        for k in range(7):
            if out[k] < FLOOR:
                out[k] = FLOOR
