"""How well each stage explains the latest reading: log likelihoods, up to one constant for all.

A score is what one *look* says, a look being as long as the errors of the features stay alike.
Amps are weighed by their density against 1 / (0.05 C20), volts against 1 / (75 mV a cell), slopes
by how flat they are. No feature may speak below -CAP, so that none decides for ever.
"""

from __future__ import annotations

from math import log
from typing import Final

from monitor.bank import Bank, Source, SourceKind
from monitor.engine.features import Features
from monitor.engine.hold import Memory
from monitor.engine.setpoints import CAP, Level, SetPoints
from monitor.engine.stage_order import ABSORPTION, BULK, DISCHARGE, EQUALIZE, FIXED, FLOAT, REST
from monitor.engine.transitions import FORGIVEN

#: Float current of a full bank: exponential around 0.4 % of C20 (common practice 0.1 to 0.5 %).
TRICKLE: Final = 0.004
#: What is always on in a coach draws about 0.4 % of C20 (common practice: 0.2 to 1 A on 200 Ah);
#: nats of that density over an even chance within 0.05 C20, as half of all loads.
STANDING: Final = 0.004
STANDING_NATS: Final = log(0.5 * 0.05 / STANDING)
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
#: With a solar source so much of it is always taken for granted.
SUNLIT: Final = 0.3
#: A bank that is not full does not float: that is worth no more than this chance (the estimate of
#: charge may itself be wrong).
UNFILLED: Final = 0.005
LOG_UNFILLED: Final = log(UNFILLED)
#: Nats that a source's amps lose by spreading over 0.2 C20, and volts by spreading over 0.25 V.
SPREAD_AMPS: Final = 1.4
SPREAD_VOLTS: Final = 1.2
#: Volts per cell above absorption from which float may still be falling; after equalize so much
#: more.
FALLS_FROM: Final = 0.03
EQUALIZE_SPAN: Final = 0.3
#: What a source says of itself is one more piece of evidence, worth this many nats a look: enough
#: where nothing else speaks, too little against what is measured.
REPORTED: Final = 1.0
REPORTS: Final[dict[str, tuple[int, ...]]] = {
    "off": (REST, DISCHARGE),
    "rest": (REST, DISCHARGE),
    "bulk": (BULK,),
    "absorption": (ABSORPTION,),
    "float": (FLOAT,),
    "equalize": (EQUALIZE,),
    "fixed": (FIXED,),
}
#: Deviations above where it is expected that a source of one voltage may still be on its way up.
FIXED_REACH: Final = 1.5


class Scores:
    """Scores of one bank's stages; `now` lists them in the order of `Stage`.

    `floats`: float is explained by its level, not by volts on their way down or up to it.
    """

    __slots__ = (
        "_absorption_high",
        "_equalizes",
        "_fixed_low",
        "_float_low",
        "_lead",
        "_rest_top",
        "_still",
        "_sun",
        "floats",
        "now",
    )

    def __init__(self, bank: Bank, sources: tuple[Source, ...]) -> None:
        chemistry = bank.chemistry
        self.now = [0.0] * 7
        self.floats = True
        self._absorption_high = chemistry.absorption.high
        self._equalizes = chemistry.equalize is not None
        self._float_low = chemistry.rest_volts[-1][1] + FLOAT_ABOVE if chemistry.lead else 0.0
        self._fixed_low = 0.0 if chemistry.lead else chemistry.float_.low
        self._lead = chemistry.lead
        self._rest_top = chemistry.rest_volts[-1][1] + SURFACE
        self._still = 0.0
        sunlit = any(source.kind is SourceKind.SOLAR for source in sources)
        self._sun = SUNLIT if sunlit else 0.0

    def update(self, f: Features, points: SetPoints, memory: Memory, filled: float) -> None:
        """Weigh the latest features; `filled`: the chance that the bank is full enough to float."""
        now = self.now
        idle, draw, give, trickle, charge = _amps(f)
        rise = f.rise_sigmas
        drift = f.drift_sigmas
        keeps = f.keeps

        # slopes, as nats against flat; and what the volts did when the amps changed
        flat = -0.5 * rise * rise
        if flat < -4.0:
            flat = -4.0
        steep = -0.125 * drift * drift
        flat += steep if steep > -2.0 else -2.0
        hold = flat + keeps if keeps < 0.0 else flat
        short = -0.5 * f.untapered * f.untapered
        hold += short if short > -8.0 else -8.0
        follow = -keeps if keeps > 0.0 else 0.0

        self._unheld(f, idle, draw, follow)

        # a current that falls while the volts stay is no limit
        taper = f.taper_sigmas
        climb = give - SPREAD_VOLTS + follow
        if taper < -2.5 and rise > -2.0:
            falls = -0.5 * (taper + 1.5) * (taper + 1.5) * (1.0 - f.wanders)
            climb += falls if falls > -3.0 else -3.0
        bulk = climb

        level = points.absorption
        variance = f.volts_variance + f.lead_sd * f.lead_sd
        if self._lead or f.cell >= LFP_KNEE:
            now[ABSORPTION] = (
                level.nats(f.held, variance, self._lead and not f.measured) + hold + charge
            )
        else:
            now[ABSORPTION] = -CAP
        over = f.held - level.mean
        if over > 0.0:
            over = over / (level.sd * level.sd + variance) ** 0.5 - 1.0
            if over > 1.0:
                over = 0.5 * over * over
                bulk -= over if over < 3.0 else 3.0
        if f.amps < TRICKLE and f.cell > self._rest_top and flat > -1.0 and drift > -2.0:
            bulk -= 2.0
        now[BULK] = bulk

        now[FLOAT] = self._float(
            f, points, memory, filled, hold + trickle, give, idle if idle > draw else draw
        )
        now[EQUALIZE] = climb if self._equalizing(f.cell, points.absorption) else climb - 6.0

        # fixed: at its level, or on the way up like bulk
        level = points.fixed
        odds = memory.fixed_odds
        fixed = level.nats(f.held, f.volts_variance, self._lead and not f.measured) + hold + charge
        if odds < 0.0:
            # what is known to stage is doubted; a level of its own shows by a current that tapers
            fixed += odds / 3.0
            if f.wander_sigmas > -3.0 or f.wanders > 0.5:
                fixed -= 3.0
        if f.cell < self._fixed_low:
            fixed = -CAP  # below, an LFP bank's own curve is as flat as any hold
        below = f.held < level.mean + FIXED_REACH * level.sd
        now[FIXED] = climb if below and climb > fixed else fixed
        if f.opened:
            for stage in (BULK, ABSORPTION, FLOAT, EQUALIZE, FIXED):
                now[stage] = -CAP
        if f.reported is not None:
            for stage in REPORTS.get(f.reported, ()):
                now[stage] += REPORTED

    def _unheld(self, f: Features, idle: float, draw: float, follow: float) -> None:
        """Rest and discharge: the volts fade from above, or stay within what the bank rests at."""
        above = f.cell - self._rest_top
        still = -SPREAD_VOLTS
        if above > 0.0:
            unrelaxed = (f.drift + above / RELAXES) / f.drift_sd
            still = -1.9
            if unrelaxed > 0.0:
                still -= 0.5 * unrelaxed * unrelaxed
                if still < -6.0:
                    still = -6.0
        self._still = still
        wander = f.wander_sigmas
        wandering = -0.06 * wander * wander
        if wandering < -6.0:
            wandering = -6.0
        now = self.now
        now[REST] = (
            idle
            + still
            + wandering
            - SUNNY * (f.wanders if f.wanders > self._sun else self._sun)
            + 0.3 * follow
        )
        now[DISCHARGE] = draw + still + follow + (wandering if wandering > -2.0 else -2.0)

    def _float(
        self,
        f: Features,
        points: SetPoints,
        memory: Memory,
        filled: float,
        held: float,
        give: float,
        unfed: float,
    ) -> float:
        """Float at its level, on the way down to it after absorption, or back up after a load."""
        level = points.float_
        best = held
        variance = f.volts_variance + 0.25 * f.lead_sd * f.lead_sd
        if f.held > self._float_low:
            best += level.nats(f.held, variance, self._lead and not f.measured)
        else:
            best -= CAP
        self.floats = True
        before = memory.held
        low = points.low_hold
        if low.given is not None and f.held < level.mean:
            if held + low.nats(f.held, variance, False) > best:
                best = held + low.nats(f.held, variance, False)
            if before == FLOAT and f.held > low.mean and unfed + self._still > best:
                best = unfed + self._still
                self.floats = False
        elif f.held < level.mean:
            if memory.lost < FORGIVEN and f.sigmas > 2.0 and give - SPREAD_VOLTS > best:
                best = give - SPREAD_VOLTS
                self.floats = False
        elif before >= ABSORPTION and before != FIXED:
            reach = FALLS_FROM + (EQUALIZE_SPAN if before == EQUALIZE else 0.0)
            if f.cell < points.absorption.mean + reach and unfed + self._still > best:
                best = unfed + self._still
                self.floats = False
        if filled < 1.0:
            best += log(filled) if filled > UNFILLED else LOG_UNFILLED
        return best

    def _equalizing(self, cell: float, level: Level) -> bool:
        """Above anything that absorption may be."""
        if not self._equalizes:
            return False
        top = level.mean if level.mean > level.start_mean else level.start_mean
        if cell < top + 3.0 * level.sd:
            return False
        return level.given is not None or cell > self._absorption_high + EQUALIZE_ABOVE


def _amps(f: Features) -> tuple[float, float, float, float, float]:
    """Nats of the amps for: none, a load's, a source's, a float's, a held voltage's."""
    sigmas = f.sigmas
    square = 0.5 * sigmas * sigmas
    idle = -CAP
    if square < 20.0:
        idle = log(0.02 / f.amps_sd) - square
        if idle < -CAP:
            idle = -CAP
    # half of all time without a source only what is always on draws, else loads of any size
    if sigmas >= 0.0:
        trickle = 2.5 - f.amps / TRICKLE
        return (
            idle,
            STANDING_NATS - 0.7 - square if square < CAP else -CAP,
            -SPREAD_AMPS,
            trickle if trickle > -0.5 else -0.5,
            0.0,
        )
    draw = STANDING_NATS + f.amps / STANDING
    if sigmas > -1.0:
        draw -= 0.7
    off = (f.amps + BEYOND) / f.amps_sd if f.wanders > SUN else sigmas
    give = -SPREAD_AMPS - 0.5 * off * off if off < 0.0 else -SPREAD_AMPS
    charge = -0.1 * square if square < 15.0 else -1.5
    return (
        idle,
        draw if draw > -0.7 else -0.7,
        give if give > -CAP else -CAP,
        charge + 2.5 if sigmas > -2.0 else charge,
        charge,
    )
