"""The resistance between a source and the posts, and whether it has grown.

Volts at the source less volts at the posts, over the current between: cable, crimps, fuse and
lugs together. What it is at first is the installation; what it grows by is a joint going bad.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank

BIN_SECONDS: Final = 300.0
#: Least current, in units of C20, that tells a resistance: where the source's own current is
#: measured, and where only the bank's net current is (a load would falsify a smaller one).
LEAST_RATE: Final = 0.05
LEAST_NET_RATE: Final = 0.1
#: Bins from which the first resistance is averaged (an hour of current), and how fast it follows
#: one that turns out lower.
FIRST_BINS: Final = 12
FOLLOW: Final = 0.1


class Joint:
    """`first_ohms` as first found, `ohms` now; None until there was current enough to tell."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "first_ohms",
        "ohms",
        "amps",
        "drop",
        "_bins",
        "_end",
        "_products",
        "_squares",
        "_count",
    )
    __slots__ = (*KEPT, "_ampere_hours")

    def __init__(self, bank: Bank) -> None:
        self._ampere_hours = bank.amp_hours
        self.first_ohms: float | None = None
        self.ohms: float | None = None
        self.amps = 0.0
        self.drop = 0.0
        self._bins = 0
        self._end = 0.0
        self._products = 0.0
        self._squares = 0.0
        self._count = 0

    def add(self, seconds: float, drop: float, amps: float, own_amps: bool) -> None:
        """A minute's means of the drop in volts and of the current between."""
        if seconds >= self._end:
            self._close()
            self._end = seconds + BIN_SECONDS
        least = LEAST_RATE if own_amps else LEAST_NET_RATE
        if amps >= least * self._ampere_hours:
            self._products += drop * amps
            self._squares += amps * amps
            self._count += 1
            self.amps = amps
            self.drop = drop

    def _close(self) -> None:
        if self._count >= 3:
            ohms = self._products / self._squares
            self.ohms = ohms
            first = self.first_ohms
            if first is None:
                self.first_ohms = ohms
            elif self._bins < FIRST_BINS:
                self.first_ohms = first + (ohms - first) / (self._bins + 1)
            elif ohms < first:
                self.first_ohms = first + FOLLOW * (ohms - first)
            self._bins = min(FIRST_BINS, self._bins + 1)
        self._products = self._squares = 0.0
        self._count = 0

    @property
    def growth(self) -> float | None:
        """Ohms above what it was at first; None until both are known."""
        if self.ohms is None or self.first_ohms is None:
            return None
        return self.ohms - self.first_ohms
