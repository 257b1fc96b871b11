"""Two meters of the same thing that do not say the same.

Where several devices give one quantity of one owner, the one configured first is believed while it
is fresh. The others are not thrown away: once a minute each is compared with it, from values of
about the same age, and the median of a quarter of an hour is held against what two sound meters
may differ by. A lead between two places of measuring is no disagreement: voltages are compared
only while next to nothing flows.
"""

from __future__ import annotations

from typing import ClassVar, Final, NamedTuple

from adapters.reading import QUANTITIES, Quantity
from monitor.bank import Bank
from monitor.engine.align import BankAlignment
from monitor.engine.device import Given, Slot

#: Minutes that are kept of each pair, and how many say something: a load that starts between two
#: polls spoils one of them, not the median.
KEPT_MINUTES: Final = 15
LEAST_MINUTES: Final = 8
#: Two figures further apart in time than their devices' periods are not of the same moment.
SAME_MOMENT_SECONDS: Final = 2.0
#: Above this share of the capacity in amps a lead's drop counts (10 A through 10 mohm: 0.1 V).
STILL_RATE: Final = 0.02


class Rule(NamedTuple):
    """What two sound meters may differ by: fixed, a share of the figure, a share of the bank's
    ampere-hours; `still` where it can be judged only while nothing flows."""

    fixed: float
    share: float
    rate: float
    still: bool


#: Common practice: a shunt monitor or charger reads volts to 0.5 %, amps to 1 or 2 % with a zero
#: within 0.2 A on a common shunt; two sensors on one bank stand within 5 °C of each other.
VOLTS: Final = Rule(0.03, 0.01, 0.0, True)
AMPS: Final = Rule(0.4, 0.04, 0.002, False)
CELSIUS: Final = Rule(6.0, 0.0, 0.0, False)
RULES: Final[dict[Quantity, Rule]] = {
    Quantity.BANK_VOLTS: VOLTS,
    Quantity.BANK_AMPS: AMPS,
    Quantity.BANK_CELSIUS: CELSIUS,
}


class Disagreement:
    """`times` is by how much the worst pair is beyond what both meters may be off, as a multiple
    of it, None where no quantity has two meters; `words` say who says what."""

    KEPT: ClassVar[tuple[str, ...]] = ("times", "words", "_apart")
    __slots__ = (*KEPT, "_bank")

    def __init__(self, bank: Bank) -> None:
        self._bank = bank
        self.times: float | None = None
        self.words = ""
        #: Differences of the last minutes, by owner, quantity and the two devices.
        self._apart: dict[str, list[float]] = {}

    def look(self, given: BankAlignment, seconds: float, amps: float) -> None:
        """Compare everything that is measured twice; `amps` a minute's mean of the bank."""
        seen: set[str] = set()
        self.times, self.words = None, ""
        for quantity, rule in RULES.items():
            self._compare(self._bank.id, quantity, given.slots[quantity], rule, seconds, amps, seen)
        for source in given.sources:
            owner = source.source.id
            for quantity, slot, rule in (
                (Quantity.SOURCE_VOLTS, source.volts, VOLTS),
                (Quantity.SOURCE_AMPS, source.amps, AMPS),
            ):
                self._compare(owner, quantity, slot, rule, seconds, amps, seen)
        for key in [key for key in self._apart if key not in seen]:
            del self._apart[key]

    def _compare(
        self,
        owner: str,
        quantity: Quantity,
        slot: Slot,
        rule: Rule,
        seconds: float,
        amps: float,
        seen: set[str],
    ) -> None:
        if len(slot.givens) < 2:
            return
        best = slot.best(seconds)
        if best is None:
            return
        for other in slot.givens:
            if other is best or not _fresh(other, seconds):
                continue
            key = f"{owner} {quantity} {best.device.name} {other.device.name}"
            seen.add(key)
            apart = self._apart.setdefault(key, [])
            still = abs(amps) <= STILL_RATE * self._bank.amp_hours
            if _same_moment(best, other) and (still or not rule.still):
                apart.append(float(other.figure) - float(best.figure))
                del apart[:-KEPT_MINUTES]
            if len(apart) >= LEAST_MINUTES:
                self._judge(owner, quantity, best, other, sorted(apart)[len(apart) // 2], rule)

    def _judge(
        self, owner: str, quantity: Quantity, best: Given, other: Given, apart: float, rule: Rule
    ) -> None:
        figure = abs(float(best.figure))
        allowed = rule.fixed + rule.share * figure + rule.rate * self._bank.amp_hours
        times = abs(apart) / allowed
        if self.times is not None and times <= self.times:
            return
        properties = QUANTITIES[quantity]
        unit = properties.unit
        self.times = times
        self.words = (
            f"{owner} {properties.words}: {other.device.name} says {abs(apart):.2g} {unit} "
            f"{'more' if apart > 0.0 else 'less'} than {best.device.name}, which is believed; "
        )


def _fresh(given: Given, seconds: float) -> bool:
    device = given.device
    return device.up and given.heard and seconds - given.seconds <= device.limit


def _same_moment(one: Given, other: Given) -> bool:
    allowed = max(SAME_MOMENT_SECONDS, one.device.period, other.device.period)
    return abs(one.seconds - other.seconds) <= allowed
