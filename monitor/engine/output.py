"""What a charger gives while it gives all it can, against what it has given before.

A charger at its current limit does not hold its voltage: what flows then is all it can give. Hot,
or fed by weak AC, it gives far less than it did. Its label says little, since many are turned down
on purpose to spare a breaker; its own best, of some minutes at a stretch, says more. The best is
forgotten slowly, so that a charger turned down for good is not told of for ever.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Source, SourceKind

#: At its limit while the chance that it regulates its voltage is below this; surely not above the
#: second (our choice).
AT_LIMIT: Final = 0.2
REGULATES: Final = 0.8
#: A best is believed of so many minutes in a row (our choice: longer than a surge).
BEST_MINUTES: Final = 4
#: Share of the best that is forgotten in a minute at the limit: a third in about 40 hours.
FORGET: Final = 1.0 / 6000.0
#: A source that gives less than this share of its best is off (our choice).
OFF: Final = 0.05
#: What a source calls itself while it holds a voltage, or does not charge.
HOLDING: Final = frozenset({"absorption", "float", "equalize", "fixed", "off", "rest"})


class Output:
    """`share` of its best that it gives at its limit; 1 where it is not, None where not known."""

    KEPT: ClassVar[tuple[str, ...]] = ("share", "best", "_last")
    __slots__ = (*KEPT, "_judged")

    def __init__(self, source: Source) -> None:
        #: The sun and an engine give what they can; only a charger on AC owes its best.
        self._judged = source.kind is SourceKind.AC_CHARGER
        self.share: float | None = None
        self.best = 0.0
        #: The last minutes in a row at its limit.
        self._last = [0.0] * BEST_MINUTES

    def look(self, amps: float | None, regulating: float, reported: str | None = None) -> None:
        """A minute's mean of its own amps, how likely it is that it holds its voltage, and what it
        says of itself: one that says that it holds a voltage owes no more than the bank takes."""
        if not self._judged or amps is None:
            self.share = None
            return
        holds = reported in HOLDING
        at_limit = regulating < AT_LIMIT and not holds and amps > OFF * self.best
        self._last = [*self._last[1:], amps if at_limit else 0.0]
        if not at_limit:
            unsure = AT_LIMIT <= regulating <= REGULATES and not holds
            self.share = None if unsure else 1.0
            return
        self.best = max(self.best * (1.0 - FORGET), min(self._last))
        self.share = min(1.0, amps / self.best) if self.best > 0.0 else 1.0
