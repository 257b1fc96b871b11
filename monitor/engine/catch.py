"""Volts that were falling by themselves and are caught: something holds them again.

A source that falls to a low hold after hours in float lets the bank's volts go for a while and then
holds them, perhaps hardly above where the bank would rest. What tells the two apart is the bend: a
bank left alone falls ever more slowly, by its own time constants, and is never flat within the
hour after it fell fast; one that is held stops at once.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.engine.features import Features

#: Falling fast: surely more than 20 mV in an hour, volts per cell a second. Published rest curves
#: of lead-acid banks pass that slope within the first two hours and half of it hours later.
FALLS: Final = 0.020 / 3600.0
#: Flat: surely less than a fifth of that.
FLAT: Final = 0.004 / 3600.0
#: How long a fast fall is remembered, seconds (a bank alone needs hours from the one to the other).
REMEMBERED: Final = 2400.0
#: No more than this many deviations of current flow meanwhile: nothing charges, nothing draws.
IDLE_SIGMAS: Final = 3.0


class Catch:
    """`look` is True while volts that fell within the last half hour or so are held."""

    KEPT: ClassVar[tuple[str, ...]] = ("fall",)
    __slots__ = KEPT

    def __init__(self) -> None:
        #: The steepest sure fall lately, volts per cell a second, faded with time.
        self.fall = 0.0

    def look(self, f: Features, elapsed: float) -> bool:
        self.fall *= 1.0 - min(1.0, elapsed / REMEMBERED)
        sure = f.drift + 2.0 * f.drift_sd
        if sure < self.fall:
            self.fall = sure
        return (
            self.fall < -0.25 * FALLS
            and f.steepest < FLAT
            and -IDLE_SIGMAS < f.sigmas < IDLE_SIGMAS
        )
