"""A load that stops at once while the bank is all but empty: its protection let go of it.

Whoever has the protection's own report needs none of this. Without it, an LFP bank near empty
whose current goes from a load to nothing within one look, while its voltage does not recover to
that of a bank with charge in it, has opened its discharge side: people switch off one thing, not
everything down to the last milliamp. It is over when current flows again, either way.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank

#: Volts per cell under load from which an LFP cell is about empty; protections let go at 2.5 to
#: 2.8 V of the lowest cell (common practice), which the mean is above. Told only below the first,
#: and while it has not recovered above the second.
NEARLY_EMPTY: Final = 2.95
RECOVERED: Final = 3.10
#: What flows before, at least, and after, at most, in C20; and looks between the two, at most (the
#: cut falls within one).
LOAD_RATE: Final = 0.005
NOTHING_RATE: Final = 0.002
MOST_LOOKS: Final = 2


class DischargeCut:
    """`open` while the discharge side seems to be; `amps` and `volts` are those just before."""

    KEPT: ClassVar[tuple[str, ...]] = ("open", "amps", "volts", "_looks")
    __slots__ = (*KEPT, "_amp_hours", "_cells", "_protected")

    def __init__(self, bank: Bank) -> None:
        self._amp_hours = bank.amp_hours
        self._cells = bank.cells
        self._protected = not bank.chemistry.lead
        self.open = False
        self.amps = 0.0
        self.volts = 0.0
        self._looks = MOST_LOOKS + 1

    def look(self, volts: float, amps: float) -> None:
        """The means of ten seconds."""
        rate = amps / self._amp_hours
        low = volts < RECOVERED * self._cells
        if self.open:
            self.open = low and -LOAD_RATE < rate < LOAD_RATE
        elif rate < -LOAD_RATE:
            self.amps = amps
            self.volts = volts
            self._looks = 0
        elif self._looks <= MOST_LOOKS:
            self._looks += 1
            nothing = -NOTHING_RATE < rate < NOTHING_RATE
            empty = self.volts < NEARLY_EMPTY * self._cells
            self.open = self._protected and nothing and low and empty

    def forget(self) -> None:
        """Nothing was seen for a while: what stopped meanwhile need not have stopped at once."""
        self._looks = MOST_LOOKS + 1
