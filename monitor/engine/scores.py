"""How well each stage explains the latest reading: log likelihoods, up to one constant for all.

A score is what one *look* says, a look being as long as the errors of the features stay alike.
Amps are weighed by their density against 1 / (0.05 C20), volts against 1 / (75 mV a cell), slopes
by how flat they are. No feature may speak below -CAP, so that none decides for ever.
"""

from __future__ import annotations

from math import log
from typing import Final

from monitor.bank import Bank
from monitor.engine.features import Features
from monitor.engine.hold import Memory
from monitor.engine.setpoints import SetPoints
from monitor.engine.stage_order import ABSORPTION, BULK, DISCHARGE, EQUALIZE, FIXED, FLOAT, REST

CAP: Final = 12.0
#: Float current of a full bank: exponential around 0.4 % of C20 (common practice 0.1 to 0.5 %).
TRICKLE: Final = 0.004
#: A bank rests at most this far above its chemistry's rest voltage when full, volts per cell
#: (surface charge that hours have not worn off).
SURFACE: Final = 0.05
#: Nothing floats nearer to its rest voltage than this, volts per cell (common practice: lead floats
#: 0.06 or more above it).
FLOAT_ABOVE: Final = 0.02
#: Seconds within which surface charge fades at the least, once nothing holds it (measured rest
#: curves lose most of it within one to two hours).
RELAXES: Final = 7200.0
#: Net current below which a source that is on counts as not carrying the load, C20.
BEYOND: Final = 0.002
#: No source of an LFP bank holds less than this, volts per cell; below, the curve itself is flat.
LFP_KNEE: Final = 3.42
#: Volts a cell above the chemistry's highest absorption from which equalize begins when unknown.
EQUALIZE_ABOVE: Final = 0.015
#: Amps wandered this much of the last half hour: the sun is up, and it may hold the net current a
#: little below zero. What rest then loses: the sun covering the loads is no rest.
SUN: Final = 0.15
SUNNY: Final = 4.0
#: Share of absorption plateaus that lie elsewhere than expected: a second source, another setting.
ELSEWHERE: Final = 0.05
#: A bank that is not full does not float: that is worth no more than this chance (the estimate of
#: charge may itself be wrong).
UNFILLED: Final = 0.005
WIDE_BELOW: Final = -2.5
#: Share of the bank's charge that may be lost before float has to be earned anew, C20 hours.
FORGIVEN: Final = 0.02


class Scores:
    __slots__ = (
        "_absorption_high",
        "_elsewhere",
        "_equalizes",
        "_float_low",
        "_float_sd",
        "_lead",
        "_rest_top",
        "_wide_mean",
        "_wide_sd",
        "floats",
        "now",
    )

    def __init__(self, bank: Bank) -> None:
        chemistry = bank.chemistry
        self.now = [0.0] * 7
        self.floats = True
        self._float_low = chemistry.rest_volts[-1][1] + FLOAT_ABOVE if chemistry.lead else 0.0
        span = chemistry.float_
        self._float_sd = max(0.5 * (span.high - span.low), 0.025)
        self._lead = chemistry.lead
        self._rest_top = chemistry.rest_volts[-1][1] + SURFACE
        span = chemistry.absorption
        self._wide_mean = 0.5 * (span.low + span.high)
        self._wide_sd = max(0.5 * (span.high - span.low), 0.025)
        self._absorption_high = span.high
        self._equalizes = chemistry.equalize is not None
        self._elsewhere = log(ELSEWHERE)

    @staticmethod
    def doubt(odds: float) -> float:
        """What a source known to stage takes from the thought that it holds one voltage."""
        return max(odds, -6.0) / 3.0 if odds < 0.0 else 0.0

    def update(self, f: Features, points: SetPoints, memory: Memory, filled: float) -> None:
        now = self.now
        cell = f.cell
        held = f.held
        amps = f.amps
        sigmas = f.sigmas
        rise = f.rise_sigmas
        drift = f.drift_sigmas
        keeps = f.keeps
        wander = f.wander_sigmas

        # amps, as nats over an even chance within 0.05 C20
        square = 0.5 * sigmas * sigmas
        idle = log(0.02 / f.amps_sd) - square
        if idle < -CAP:
            idle = -CAP
        if amps >= 0.0:
            draw = -0.7 - square
            give = -1.4
            trickle = 2.5 - amps / TRICKLE
            if trickle < -0.5:
                trickle = -0.5
            charge = 0.0
        else:
            draw = -0.7 if sigmas > -1.0 else 0.0
            off = (amps + BEYOND) / f.amps_sd if f.wanders > SUN else sigmas
            give = -1.4 - 0.5 * off * off if off < 0.0 else -1.4
            charge = -0.1 * square
            if charge < -1.5:
                charge = -1.5
            trickle = charge + (2.5 if sigmas > -2.0 else 0.0)
        if draw < -CAP:
            draw = -CAP
        if give < -CAP:
            give = -CAP

        # slopes, as nats against flat
        flat = -0.5 * rise * rise
        if flat < -4.0:
            flat = -4.0
        steep = -0.125 * drift * drift
        if steep < -2.0:
            steep = -2.0
        flat += steep
        keep = keeps if keeps < 0.0 else 0.0
        follow = -keeps if keeps > 0.0 else 0.0

        # no source: volts fall or rest within the chemistry's range
        above = cell - self._rest_top
        still = -1.2
        if above > 0.0:
            unrelaxed = (f.drift + above / RELAXES) / f.drift_sd
            still = -1.9 - (0.5 * unrelaxed * unrelaxed if unrelaxed > 0.0 else 0.0)
            if still < -6.0:
                still = -6.0
        wandering = -0.06 * wander * wander
        if wandering < -6.0:
            wandering = -6.0
        now[REST] = idle + still + wandering - SUNNY * f.wanders + 0.3 * follow
        if wandering < -2.0:
            wandering = -2.0
        now[DISCHARGE] = draw + still + wandering + follow

        # levels
        level = points.absorption
        sd2 = level.sd * level.sd + f.volts_variance + f.lead_sd * f.lead_sd
        sd = sd2**0.5
        off = (held - level.mean) / sd
        at = log(0.03 / sd) - 0.5 * off * off
        if held > self._rest_top + 0.1 or self._lead is False:
            sd_wide = self._wide_sd
            off_wide = (held - self._wide_mean) / sd_wide
            wide = self._elsewhere + log(0.03 / sd_wide) - 0.5 * off_wide * off_wide
            if wide > at:
                at = wide
        if at < -CAP:
            at = -CAP
        short = -0.5 * f.untapered * f.untapered
        hold = flat + keep + (short if short > -8.0 else -8.0)
        if level.other is not None:
            off_other = (held - level.other) / sd
            other = log(0.03 / sd) - 1.0 - 0.5 * off_other * off_other
            if other > at:
                at = other
        absorption = at + hold + charge
        if not self._lead and cell < LFP_KNEE:
            absorption = -CAP
        now[ABSORPTION] = absorption

        # bulk: anything below absorption; current that falls while volts stay is not a limit
        falls = 0.0
        taper = f.taper_sigmas
        if taper < -2.5 and rise > -2.0:
            falls = -0.5 * (taper + 1.5) * (taper + 1.5) * (1.0 - f.wanders)
            if falls < -3.0:
                falls = -3.0
        bulk = give + falls + follow - 1.2
        if off > 2.0:
            over = 0.5 * (off - 1.0) * (off - 1.0)
            bulk -= over if over < 3.0 else 3.0
        if amps < TRICKLE and above > 0.0 and rise > -2.0 and drift > -2.0 and flat > -1.0:
            bulk -= 2.0
        now[BULK] = bulk

        # float: at its level, falling to it, or climbing back to it after an overload
        level = points.float_
        sd2 = level.sd * level.sd + f.volts_variance + 0.25 * f.lead_sd * f.lead_sd
        sd = sd2**0.5
        off_float = (held - level.mean) / sd
        at = log(0.03 / sd) - 0.5 * off_float * off_float
        if at < WIDE_BELOW:
            off_wide = (held - level.start_mean) / self._float_sd
            wide = self._elsewhere + log(0.03 / self._float_sd) - 0.5 * off_wide * off_wide
            if wide > at:
                at = wide
        if at < -CAP or held < self._float_low:
            at = -CAP
        best = at + hold + trickle
        self.floats = True
        if (
            off_float > 0.0
            and memory.held >= ABSORPTION
            and memory.held != FIXED
            and cell < points.absorption.mean + 0.03 + (0.3 if memory.held == EQUALIZE else 0.0)
        ):
            fall = (idle if idle > draw else draw) + still
            if fall > best:
                best = fall
                self.floats = False
        elif off_float < 0.0 and memory.lost < FORGIVEN and sigmas > 2.0:
            climb = give - 1.2
            if climb > best:
                best = climb
                self.floats = False
        now[FLOAT] = best + (log(filled) if filled > UNFILLED else log(UNFILLED))

        # equalize
        if self._equalizes:
            level = points.absorption
            top = level.mean if level.mean > level.start_mean else level.start_mean
            up = cell - top - 3.0 * level.sd
            if points.absorption.given is None:
                other = cell - self._absorption_high - EQUALIZE_ABOVE
                if other < up:
                    up = other
            now[EQUALIZE] = give - 1.2 + falls + follow - (0.0 if up > 0.0 else 6.0)
        else:
            now[EQUALIZE] = -CAP - 4.0

        # fixed: at its level, or on the way up like bulk
        level = points.fixed
        sd2 = level.sd * level.sd + f.volts_variance + 0.25 * f.lead_sd * f.lead_sd
        sd = sd2**0.5
        off = (held - level.mean) / sd
        at = log(0.03 / sd) - 0.5 * off * off
        if at < -CAP:
            at = -CAP
        doubt = self.doubt(memory.fixed_odds)
        if memory.fixed_odds < 0.0 and (wander > -3.0 or f.wanders > 0.5):
            doubt -= 3.0  # a level of its own is shown by a current that tapers under it
        best = at + hold + charge + doubt
        if off < 0.0:
            climb = give + falls + follow - 1.2
            if climb > best:
                best = climb
        now[FIXED] = best
        if f.opened:
            for stage in (BULK, ABSORPTION, FLOAT, EQUALIZE, FIXED):
                now[stage] = -CAP
