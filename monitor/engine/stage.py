"""What the source is doing to the bank: a hidden-Markov filter over the seven stages.

One forward step a reading: chances of change (`_expect`), then evidence (`scores`), then what was
seen is remembered (`hold`). Probabilities, since when, and the reasons a person can read.
"""

from __future__ import annotations

from math import exp
from typing import ClassVar, Final

from monitor.bank import Bank, Source
from monitor.engine.features import Features
from monitor.engine.hold import SURE, Memory
from monitor.engine.scores import Scores
from monitor.engine.setpoints import SetPoints
from monitor.engine.signal import Signal
from monitor.engine.snapshot import Fact, SetPointView, Stage, StageView
from monitor.engine.stage_evidence import explain
from monitor.engine.stage_order import (
    ABSORPTION,
    BULK,
    FIXED,
    REST,
    STAGES,
)
from monitor.engine.taper import Taper
from monitor.engine.transitions import FORGIVEN, expect

#: Seconds that one look at the features is worth: about twice the fast average's span.
LOOK: Final = 15.0
#: A long pause between two readings is worth no more than this many.
MOST_LOOKS: Final = 3.0
#: Resting amps this near nothing refine the sensor's zero, C20; more may be a standing load.
NEAR_ZERO: Final = 0.0005
REST_ZERO_SD: Final = 0.0003
#: While the signal keeps to its lines and the stage is as probable as this, the features say little
#: new from one reading to the next: they are weighed once a look, otherwise at every reading, and
#: for so many seconds after the signal stirred (twice a look: the fast average has settled).
CALM: Final = 0.98
STIRRED_SECONDS: Final = 30.0
#: A stage this improbable is left even when nothing else is probable enough.
GONE: Final = 0.05
#: Amps or slope of volts in deviations that show a source taking up a resting bank.
PUSHED: Final = 1.5
#: Fraction of charge from which sources float (they end absorption a few percent early).
FILLED: Final = 0.955
#: The chosen stage changes when another is at least this probable.
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
        "_chosen",
        "features",
        "looked",
        "memory",
        "probabilities",
        "regulating",
        "scores",
        "set_points",
        "since",
        "stage",
        "started",
        "taper",
        "unsure",
    )
    KEPT: ClassVar[tuple[str, ...]] = (
        "features",
        "looked",
        "memory",
        "probabilities",
        "regulating",
        "set_points",
        "since",
        "stage_name",
        "started",
        "taper",
        "unsure",
    )

    def __init__(self, bank: Bank, sources: tuple[Source, ...]) -> None:
        self._amp_hours = bank.amp_hours
        self._chosen = REST
        self.features = Features(bank)
        self.set_points = SetPoints(bank)
        self.memory = Memory(bank, sources)
        self.scores = Scores(bank, sources)
        belief = 1.0 / (1.0 + exp(-self.memory.fixed_odds))
        # even chances that sum to one; bulk and fixed, alike at first, share a slightly larger one
        self.probabilities = [6.0 / 37.0] * 7
        self.probabilities[BULK] = (1.0 - belief) * 7.0 / 37.0
        self.probabilities[FIXED] = belief * 7.0 / 37.0
        self.regulating = 0.0
        self.looked: float | None = None
        self.unsure = True
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
        self._chosen = STAGES.index(self.stage)

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
            self.probabilities[self._chosen],
            tuple(self.probabilities),
            self.since,
            facts,
        )

    def set_points_view(self, celsius: float | None) -> SetPointView:
        return self.set_points.view(celsius)

    def due(self, signal: Signal) -> bool:
        """Is there anything new to weigh? Else `update` may wait, and takes all since in one."""
        looked = self.looked
        now = signal.seconds
        return (
            self.unsure
            or looked is None
            or now - looked >= LOOK
            or now - signal.stirred < STIRRED_SECONDS
        )

    def update(self, signal: Signal, soc: float, soc_sd: float) -> bool:
        """Take an accepted reading; True where the chosen stage changed."""
        f = self.features
        memory = self.memory
        now = signal.seconds
        told = elapsed = LOOK if self.looked is None else now - self.looked
        if signal.stirred == now and self.looked is not None:
            told = signal.elapsed  # what this reading shows was not so before it
        self.looked = now
        f.update(signal, self.set_points, elapsed)
        filled = 1.0
        if memory.lost >= FORGIVEN:
            short = (FILLED - soc) / (0.01 + 0.3 * soc_sd)
            filled = 1.0 / (1.0 + exp(short if short < 50.0 else 50.0))
        self.scores.update(f, self.set_points, memory, filled)
        pushed = f.sigmas > PUSHED or f.rise_sigmas > PUSHED
        looks = told / LOOK
        self._weigh(
            expect(self.probabilities, elapsed, memory, filled, pushed),
            looks if looks < MOST_LOOKS else MOST_LOOKS,
        )
        self._learn(signal, elapsed)
        return self._choose(signal.seconds)

    def _weigh(
        self, ahead: tuple[float, float, float, float, float, float, float], looks: float
    ) -> None:
        """Multiply expectation by evidence, and scale to one."""
        s0, s1, s2, s3, s4, s5, s6 = self.scores.now
        a0, a1, a2, a3, a4, a5, a6 = ahead
        best = max(self.scores.now)
        a0 *= exp((s0 - best) * looks)
        a1 *= exp((s1 - best) * looks)
        a2 *= exp((s2 - best) * looks)
        a3 *= exp((s3 - best) * looks)
        a4 *= exp((s4 - best) * looks)
        a5 *= exp((s5 - best) * looks)
        a6 *= exp((s6 - best) * looks)
        scale = 1.0 / (a0 + a1 + a2 + a3 + a4 + a5 + a6)
        p = self.probabilities
        p[0] = a0 * scale
        p[1] = a1 * scale
        p[2] = a2 * scale
        p[3] = a3 * scale
        p[4] = a4 * scale
        p[5] = a5 * scale
        p[6] = a6 * scale
        self.regulating = (a3 + a4 + a5 + a6) * scale

    def _learn(self, signal: Signal, elapsed: float) -> None:
        """Let what is believed now teach set-points, habits, resistance, the sensor's zero."""
        p = self.probabilities
        f = self.features
        f.unheld = self.regulating < 0.5
        self.memory.update(p, f, self.set_points, elapsed, self.scores.floats)
        if p[ABSORPTION] + p[FIXED] > SURE:
            self.taper.update(elapsed, f.amps, signal.long.slope_amps / self._amp_hours)
        elif self.regulating < 1.0 - SURE:
            if p[BULK] > SURE:
                self.taper.clear()
            if signal.load_step:
                f.learn_ohm(signal)
            if p[REST] > SURE and -NEAR_ZERO < f.amps + f.zero < NEAR_ZERO:
                f.learn_zero(f.amps + f.zero, elapsed, REST_ZERO_SD)

    def _choose(self, seconds: float) -> bool:
        """Change the stage where another is likely enough, or this one no longer is."""
        p = self.probabilities
        now = self._chosen
        top = p[now]
        self.unsure = top < CALM
        if self.started and top >= 1.0 - CHOOSE:
            return False
        best = now
        for stage in range(7):
            if p[stage] > top:
                top = p[stage]
                best = stage
        if best == now and self.started:
            return False
        if self.started and top <= CHOOSE and p[now] >= GONE:
            return False
        self._chosen = best
        self.stage = STAGES[best]
        self.since = seconds
        self.started = True
        return True
