"""A bank repeats its own taper: how long it was to full from each current, last time.

While a source holds a voltage the current falls through a ladder of levels, and the mean moment at
each is noted, so that a short rise under a load counts for little. When that charge reaches full
the notes become times left, kept per level and blended with those of earlier charges. Looked up,
they say what this bank does rather than what the circuit thinks; a charge that went much less deep
is a poor guide, and so is another voltage.
"""

from __future__ import annotations

import math
from typing import ClassVar, Final

LEVELS: Final = 60
TOP: Final = 0.5  # amps per ampere-hour of the label: no source charges a house bank harder
RATIO: Final = 0.93  # from one level to the next; sixty levels reach down to 0.6 % of the label
BLEND: Final = 0.5  # of a new charge into what was known
LEAST_SECONDS: Final = 20.0  # a level touched for less was a passing load
SAME_VOLTS: Final = 0.02  # per cell: another hold than this is another taper
_LOG_RATIO: Final = math.log(RATIO)
_LOG_TOP: Final = math.log(TOP)


class Recall:
    """Times left by current, in seconds; None where a level was never seen on the way to full."""

    KEPT: ClassVar[tuple[str, ...]] = ("charges", "depth", "left", "moments", "volts", "weights")
    __slots__ = ("charges", "depth", "left", "moments", "volts", "weights")

    def __init__(self) -> None:
        self.charges = 0
        self.depth = 0.0
        self.volts = 0.0
        self.left: list[float | None] = [None] * LEVELS
        self.moments = [0.0] * LEVELS
        self.weights = [0.0] * LEVELS

    def start(self) -> None:
        """A new charge: forget the notes of one that never reached full."""
        self.moments = [0.0] * LEVELS
        self.weights = [0.0] * LEVELS

    def note(self, seconds: float, elapsed: float, rate: float) -> None:
        """For `elapsed` seconds the held current was `rate` amps per ampere-hour of the label."""
        place = _place(rate)
        n = int(place)
        if not 0 <= n < LEVELS - 1 or elapsed <= 0.0:
            return
        over = place - n
        for level, share in ((n, 1.0 - over), (n + 1, over)):
            weight = share * elapsed
            self.weights[level] += weight
            self.moments[level] += weight * seconds

    def finish(self, seconds: float, depth: float, volts: float) -> None:
        """Full at `seconds`, after a charge that had put in `depth` when the hold began."""
        for n, weight in enumerate(self.weights):
            if weight < LEAST_SECONDS:
                continue
            new = seconds - self.moments[n] / weight
            known = self.left[n]
            self.left[n] = new if known is None else known + BLEND * (new - known)
        share = 1.0 if self.charges == 0 else BLEND
        self.depth += share * (depth - self.depth)
        self.volts += share * (volts - self.volts)
        self.charges += 1
        self.start()

    def look(self, rate: float, depth: float, volts: float) -> tuple[float, float] | None:
        """Seconds left at a held current, and how far to trust them (0..1); None if unknown."""
        if self.charges == 0 or abs(volts - self.volts) > SAME_VOLTS:
            return None
        place = _place(rate)
        n = int(place)
        if not 0 <= n < LEVELS - 1:
            return None
        upper, lower = self.left[n], self.left[n + 1]
        if upper is None or lower is None:
            return None
        seconds = upper + (place - n) * (lower - upper)
        low, high = min(depth, self.depth), max(depth, self.depth)
        return seconds, (low / high if high > 0.0 else 0.0)


def _place(rate: float) -> float:
    """Where a current lies on the ladder: 0 at the top, one for every level down."""
    return (math.log(rate) - _LOG_TOP) / _LOG_RATIO if rate > 1e-6 else LEVELS * 1.0
