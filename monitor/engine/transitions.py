"""Which stage may follow which, and how soon: the chances before the evidence is weighed.

Chances are per hour, from how sources and people work (common practice): loads come and go within
minutes, a stage of charging lasts hours, equalize is rare. Float follows absorption that has
tapered, or a full bank; what a source of one voltage does on its way up is known from its past.
"""

from __future__ import annotations

from typing import Final

from monitor.engine.hold import Memory

#: Share of the bank's charge that may be lost before float has to be earned anew, C20 hours.
FORGIVEN: Final = 0.02
#: Bulk and a fixed source on its way up look alike: an hour forgets this many times which it was.
MIX: Final = 10.0
#: A bank that is not full is not floated for long.
EMPTIED: Final = 10.0
#: Absorption that has tapered ends in float, one cut short seldom does.
ENDED: Final = 3.0
CUT_SHORT: Final = 0.3
#: What is left of the chance that float begins out of rest when nothing pushes.
UNPUSHED: Final = 0.05
#: No stage is ever thought less likely than this.
FLOOR: Final = 1e-7
#: Longest silence that is taken at its word, seconds: after it anything may have happened.
LONGEST: Final = 600.0


def expect(
    p: list[float], seconds: float, memory: Memory, filled: float, pushed: bool
) -> tuple[float, float, float, float, float, float, float]:
    """Probabilities `seconds` later, unscaled, in the order of `Stage`.

    `filled`: the chance that the bank is full enough to float; `pushed`: amps or volts go up.
    """
    hour = (seconds if seconds < LONGEST else LONGEST) / 3600.0
    fixed = memory.fixed_belief
    r, d, u, a, f, e, x = p
    start = (r + 2.0 * d) * hour
    floated = start if pushed else (r * UNPUSHED + 2.0 * d) * hour
    fresh = start * (1.0 - filled * 0.9)
    ended = ENDED if memory.lost == 0.0 else CUT_SHORT
    emptied = EMPTIED * hour * (1.0 - filled)
    mixed = MIX * hour * fixed
    staged = MIX * hour - mixed
    # chances to stay that a long silence has not used up
    bulk = 1.0 - 5.0 * hour - mixed
    float_ = 1.0 - 2.0 * hour - emptied
    one = 1.0 - 1.5 * hour - staged
    return (
        r * (1.0 - 5.0 * hour) + (d + 0.5 * (u + x) + 0.3 * f + 0.2 * (a + e)) * hour + FLOOR,
        d * (1.0 - 3.5 * hour) + (3.0 * r + 2.0 * u + a + f + x + 0.2 * e) * hour + FLOOR,
        (u * bulk if bulk > 0.0 else 0.0)
        + fresh * (1.0 - fixed)
        + (2.0 * a + 0.5 * f + 0.2 * e) * hour
        + x * staged
        + f * emptied
        + FLOOR,
        a * (1.0 - (3.5 + ended) * hour) + (u + 0.5 * d + 0.2 * (f + e)) * hour + FLOOR,
        (f * float_ if float_ > 0.0 else 0.0)
        + (ended * a + e) * hour
        + filled * (floated + u * hour)
        + FLOOR,
        e * (1.0 - 1.8 * hour) + (0.2 * a + 0.1 * f + 0.05 * u) * hour + FLOOR,
        (x * one if one > 0.0 else 0.0) + fresh * fixed + u * mixed + FLOOR,
    )
