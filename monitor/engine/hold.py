"""What sources were seen to do: which level is held now and since when, what was held before.

This is the memory that a stage filter of one step has not: float follows absorption, a short
overload does not end a stage, a source that only ever holds one voltage will do so again.
"""

from __future__ import annotations

from math import exp
from typing import ClassVar, Final

from monitor.bank import Bank, Source, SourceKind
from monitor.engine.features import GAS_AMPS, Features
from monitor.engine.setpoints import Level, SetPoints
from monitor.engine.stage_order import ABSORPTION, BULK, DISCHARGE, EQUALIZE, FIXED, FLOAT, REST

#: A stage is learned from while it is this probable and its volts have been flat for so long.
SURE: Final = 0.9
SETTLED_SECONDS: Final = 45.0
#: Flat: surely no steeper than 4 mV in 400 s a cell, less than surface charge fades; where current
#: tapers visibly it is enough to be less steep than any bank rises at the end of bulk.
FLAT: Final = 1e-5
FLAT_TAPERING: Final = 5e-5
#: Volts that stayed while the amps changed, by this many nats, need not be watched for long.
KEPT_NATS: Final = 2.0
#: Log odds that the source holds one voltage for ever: told so; staged by its set-points; unknown
#: (common practice: most sources in coaches stage); once seen to do so; once seen to stage.
ODDS_TOLD: Final = 6.0
ODDS_STAGED: Final = -6.0
ODDS_UNKNOWN: Final = -1.5
ODDS_SEEN: Final = 5.0
ODDS_SECONDS: Final = 600.0
#: Charge beyond what was lost that a full bank may still take, C20 hours (charge efficiency).
OVERFILLED: Final = 0.02
#: One voltage for ever shows itself when it is reached from below with more than this, C20: a
#: source that floats a full bank gives less.
HABIT_AMPS: Final = 0.02
#: Seconds a plateau has to last before it counts as another one, set elsewhere.
ANOTHER_SECONDS: Final = 600.0
#: The zero is learned from a float current that has been steady and below nothing for so long, by
#: no more than this (a 500 A shunt off by 0.2 % of full scale, on 300 Ah). Not from LFP: its volts
#: stay where they are while a load drains it.
TRICKLE_SECONDS: Final = 1800.0
STEADY_SIGMAS: Final = 3.0
MOST_ZERO: Final = 0.0035
#: Absorption has filled the bank enough for float below this current, C20 (common practice: sources
#: end absorption between 0.5 and 5 % of capacity).
NEARLY_FULL_AMPS: Final = 0.05


class Memory:
    """What is remembered of this bank's sources.

    `held`: the stage last seen holding a level, -1 for none in this charge; `seconds` how long,
    `idle` seconds since; `lost` charge taken out since the bank was last nearly full, C20 hours;
    `fixed_odds` log odds of a source of one voltage and `fixed_belief` its chance; `start_amps`
    amps when the hold began; `trickle` amps averaged while float is held, zero not taken off.
    """

    KEPT: ClassVar[tuple[str, ...]] = (
        "fixed_belief",
        "fixed_odds",
        "held",
        "idle",
        "lost",
        "seconds",
        "start_amps",
        "trickle",
    )
    __slots__ = (*KEPT, "_lead")

    def __init__(self, bank: Bank, sources: tuple[Source, ...]) -> None:
        self._lead = bank.chemistry.lead
        kinds = {source.kind for source in sources}
        if kinds == {SourceKind.FIXED}:
            self.fixed_odds = ODDS_TOLD
        elif bank.set_points.absorption is not None:
            self.fixed_odds = ODDS_STAGED
        else:
            self.fixed_odds = ODDS_UNKNOWN
        self.fixed_belief = 1.0 / (1.0 + exp(-self.fixed_odds))
        self.held = -1
        self.seconds = 0.0
        self.idle = 1e9
        self.lost = 1.0
        self.start_amps = 0.0
        self.trickle = 0.0

    def update(
        self, p: list[float], f: Features, points: SetPoints, elapsed: float, held: bool
    ) -> None:
        """`held`: float is at its level, neither on its way down to it nor up.

        Note what is being held, and learn set-points, zero and habits from it."""
        flat = f.steepest < FLAT or f.keeps > KEPT_NATS
        stage = -1
        level: Level | None = None
        if p[ABSORPTION] > SURE:
            stage = ABSORPTION
            flat = f.steepest < FLAT_TAPERING or f.keeps > KEPT_NATS
            level = points.absorption
            if f.amps < NEARLY_FULL_AMPS:
                self.lost = 0.0
        elif p[FLOAT] > SURE:
            if held:
                stage = FLOAT
                level = points.float_
                low = points.low_hold
                if low.given is not None and 2.0 * f.held < level.mean + low.mean:
                    level = low
                self.lost = 0.0
            elif f.amps > GAS_AMPS:
                # on its way back up to float: a bank that takes more than it lost was not full
                self.lost -= f.amps * elapsed / 3600.0
                if self.lost < -OVERFILLED:
                    self.lost = 1.0
                    self.held = -1
        elif p[FIXED] > SURE:
            stage = FIXED
            level = points.fixed
        elif p[EQUALIZE] > SURE:
            stage = EQUALIZE
            self.lost = 0.0
        if f.amps < 0.0:
            self.lost -= f.amps * elapsed / 3600.0
        if stage < 0:
            self.idle += elapsed
            if (p[BULK] > SURE and self.lost > 0.02) or p[REST] + p[DISCHARGE] > SURE:
                self.seconds = 0.0
                if p[BULK] > SURE or self.idle > 6.0 * 3600.0:
                    self.held = -1
            return
        self.idle = 0.0
        if stage != self.held:
            self.held = stage
            self.seconds = 0.0
            self.start_amps = f.amps
            self.trickle = f.amps + f.zero
        if flat:
            self.seconds += elapsed
        elif self.seconds < SETTLED_SECONDS:
            self.seconds = 0.0
        if self.seconds < SETTLED_SECONDS or not flat or level is None:
            return
        off = f.held - level.mean
        if stage == FIXED and off * off > 9.0 * (level.sd * level.sd + f.volts_variance):
            return  # still on its way up: nothing is held
        if stage == FLOAT and f.sigmas < -3.0:
            return  # more is drawn than the source gives: this is not its level
        level.learn(
            f.held,
            elapsed,
            f.volts_variance + f.lead_sd * f.lead_sd,
            self.seconds > ANOTHER_SECONDS,
        )
        if stage == FIXED and self.start_amps < HABIT_AMPS and self.fixed_odds < 0.0:
            return
        habit = ODDS_SEEN if stage == FIXED else -ODDS_SEEN
        if -ODDS_SEEN < self.fixed_odds < ODDS_SEEN or self.fixed_odds * habit < 0.0:
            self.fixed_odds += (habit - self.fixed_odds) * min(1.0, elapsed / ODDS_SECONDS)
            self.fixed_belief = 1.0 / (1.0 + exp(-self.fixed_odds))
        if stage == FLOAT and self._lead:
            self._trickle(f, elapsed)

    def _trickle(self, f: Features, elapsed: float) -> None:
        """A float current that settles below zero is the sensor's error: banks take, not give."""
        self.trickle += (f.amps + f.zero - self.trickle) * elapsed / (elapsed + 600.0)
        low = self.trickle - 0.0003
        steady = -STEADY_SIGMAS < f.wander_sigmas < STEADY_SIGMAS
        if self.seconds > TRICKLE_SECONDS and steady and -MOST_ZERO < low < f.zero - 0.0003:
            f.learn_zero(low, elapsed, 0.0004)
