"""The AC side of a source: the pedestal, generator or inverter that feeds a charger.

Its volts are looked at every ten seconds where a device shows them, the rest once a minute. Its
nominal voltage is the owner's word, else
seen: what stands above the middle of 120 and 230 V in its first minute is a 230 V supply. A lost
neutral on a split supply lets two legs share by what is switched on: one rises as the other falls,
so that both legs, or one over half an hour, stand far to *both* sides of nominal. No weak supply
does that: it only ever sags.
"""

from __future__ import annotations

from typing import ClassVar, Final

from adapters.reading import Quantity
from monitor.bank import Source
from monitor.engine.device import Slot
from monitor.engine.snapshot import SupplyView

#: There is AC at all above this: half of the lowest nominal voltage, 100 V (physics: below it
#: nothing runs; induced voltages on open lines stay below in practice).
PRESENT_VOLTS: Final = 50.0
#: Nominal voltages, and between which two the first minute decides (their geometric mean).
NOMINALS: Final = (120.0, 230.0)
MIDDLE_VOLTS: Final = 166.0
#: Further apart than this two looks have nothing between them, unless the bank is read so seldom.
NEIGHBOURS_SECONDS: Final = 30.0
#: Highs and lows are kept for half an hour in bins of five minutes, of minutes' means: a starting
#: motor dips for a second (our choice).
BIN_SECONDS: Final = 300.0
BINS: Final = 6
#: Two legs of a split supply still add up to twice the nominal voltage (our choice: within 10 %).
SUM_SHARE: Final = 0.10
#: AC that has been away for so long was another stay; how long it was there before is kept
#: meanwhile (our choice).
ANOTHER_STAY_SECONDS: Final = 600.0
#: The power factor of a charger that hardly runs says nothing: from these volt-amperes on.
LEAST_VOLT_AMPERES: Final = 300.0
NO_LOW: Final = 1e9


def shown(slots: dict[Quantity, Slot], now: float) -> SupplyView | None:
    """What devices tell of it right now; None where none ever did."""
    if not any(slot.givens for slot in slots.values()):
        return None
    volts, amps, watts = (
        slots[each].number(now) for each in (Quantity.AC_VOLTS, Quantity.AC_AMPS, Quantity.AC_WATTS)
    )
    factor = slots[Quantity.AC_POWER_FACTOR].number(now)
    if factor is None and volts and amps and watts is not None:
        factor = watts / (volts * amps)
    return SupplyView(
        volts,
        slots[Quantity.AC_OTHER_LEG_VOLTS].number(now),
        amps,
        slots[Quantity.AC_HERTZ].number(now),
        factor,
    )


class Supply:
    """`volts` as last shown, `mean_volts` of the last minute with AC; `other_volts`, `hertz`,
    `power_factor` as of then; None where not shown.

    `there_seconds` of the present stay, `gone_seconds` since there is no AC.
    """

    KEPT: ClassVar[tuple[str, ...]] = (
        "volts",
        "mean_volts",
        "other_volts",
        "hertz",
        "volt_amperes",
        "power_factor",
        "learned_nominal",
        "there_seconds",
        "gone_seconds",
        "_seconds",
        "_highs",
        "_lows",
        "_bin_ends",
        "_sum",
        "_count",
    )
    __slots__ = (*KEPT, "_given_nominal")

    def __init__(self, source: Source) -> None:
        self._given_nominal = source.ac_volts or 0.0
        self.volts: float | None = None
        self.mean_volts: float | None = None
        self.other_volts: float | None = None
        self.hertz: float | None = None
        self.volt_amperes: float | None = None
        self.power_factor: float | None = None
        self.learned_nominal = 0.0
        self.there_seconds = 0.0
        self.gone_seconds = 0.0
        self._seconds: float | None = None
        self._highs = [0.0] * BINS
        self._lows = [NO_LOW] * BINS
        self._bin_ends = 0.0
        self._sum = 0.0
        self._count = 0

    def look(
        self, slots: dict[Quantity, Slot], now: float, apart: float = NEIGHBOURS_SECONDS
    ) -> bool:
        """Every ten seconds, the volts; False where no device shows them. What lies further apart
        than `apart` seconds was not seen."""
        shown = slots[Quantity.AC_VOLTS]
        if not shown.givens:
            return False
        volts = self.volts = shown.number(now)
        if volts is None:
            return True
        elapsed = 0.0 if self._seconds is None else min(now - self._seconds, apart)
        self._seconds = now
        if volts < PRESENT_VOLTS:
            self._is_gone(elapsed)
            return True
        if self.gone_seconds >= ANOTHER_STAY_SECONDS:
            self.there_seconds = 0.0
        self.gone_seconds = 0.0
        self.there_seconds += elapsed
        self._sum += volts
        self._count += 1
        return True

    def _is_gone(self, elapsed: float) -> None:
        self.gone_seconds += elapsed
        self._sum = 0.0
        self._count = 0
        if self.gone_seconds >= ANOTHER_STAY_SECONDS:
            self.learned_nominal = 0.0
            self._highs = [0.0] * BINS
            self._lows = [NO_LOW] * BINS

    def minute(self, slots: dict[Quantity, Slot], now: float) -> None:
        """Once a minute: the mean of the volts, and everything else that is shown."""
        if not self._count:
            self.mean_volts = self.other_volts = self.hertz = None
            self.volt_amperes = self.power_factor = None
            return
        mean = self.mean_volts = self._sum / self._count
        self._sum = 0.0
        self._count = 0
        if not self.learned_nominal:
            self.learned_nominal = NOMINALS[mean > MIDDLE_VOLTS]
        if now >= self._bin_ends:
            bins = 1 if now < self._bin_ends + BIN_SECONDS else BINS
            self._highs = [*self._highs[bins:], *[0.0] * bins]
            self._lows = [*self._lows[bins:], *[NO_LOW] * bins]
            self._bin_ends = now + BIN_SECONDS
        self._highs[-1] = max(self._highs[-1], mean)
        self._lows[-1] = min(self._lows[-1], mean)
        self.other_volts = slots[Quantity.AC_OTHER_LEG_VOLTS].number(now)
        self.hertz = slots[Quantity.AC_HERTZ].number(now)
        self._load(mean, slots, now)

    def _load(self, volts: float, slots: dict[Quantity, Slot], now: float) -> None:
        amps = slots[Quantity.AC_AMPS].number(now)
        watts = slots[Quantity.AC_WATTS].number(now)
        factor = slots[Quantity.AC_POWER_FACTOR].number(now)
        self.volt_amperes = None if amps is None else volts * abs(amps)
        if factor is None and watts is not None and self.volt_amperes:
            factor = watts / self.volt_amperes
        loaded = self.volt_amperes is not None and self.volt_amperes >= LEAST_VOLT_AMPERES
        self.power_factor = abs(factor) if factor is not None and loaded else None

    @property
    def nominal(self) -> float:
        """As the owner says, else as seen; 0 until known."""
        return self._given_nominal or self.learned_nominal

    @property
    def present(self) -> bool | None:
        """Is there AC? None where nobody can say."""
        return None if self.volts is None else self.volts >= PRESENT_VOLTS

    @property
    def off_nominal(self) -> float | None:
        """Share of the nominal voltage by which it stood above in the last minute, or below."""
        if self.mean_volts is None or not self.nominal:
            return None
        return self.mean_volts / self.nominal - 1.0

    @property
    def both_sides(self) -> float | None:
        """Share of nominal by which it stands to both sides at least: two legs, or one lately."""
        nominal, volts = self.nominal, self.mean_volts
        if not nominal or volts is None:
            return None
        highest, lowest = max(self._highs), min(self._lows)
        swings = min(highest / nominal - 1.0, 1.0 - lowest / nominal)
        other = self.other_volts
        if other is not None and abs(volts + other - 2.0 * nominal) < 2.0 * SUM_SHARE * nominal:
            parted = min(max(volts, other) / nominal - 1.0, 1.0 - min(volts, other) / nominal)
            swings = max(swings, parted)
        return max(0.0, swings)

    @property
    def extremes(self) -> tuple[float, float]:
        """The lowest and highest of lately and now, of both legs where they are shown."""
        seen = [v for v in (self.mean_volts, self.other_volts) if v is not None]
        lows = [v for v in self._lows if v < NO_LOW]
        highs = [v for v in self._highs if v > 0.0]
        return min([*seen, *lows], default=0.0), max([*seen, *highs], default=0.0)
