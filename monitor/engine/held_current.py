"""A held voltage under watch: how long, at what, and whether the current falls as it should.

While a source holds a voltage the current of a sound bank can only fall or settle. What rises
instead, with the temperature, is the signature of thermal runaway; what neither falls nor ends is
an absorption that never ends. Five-minute means of the last two hours are enough for both.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank

BIN_SECONDS: Final = 300.0
#: Bins that are kept: two hours.
BINS: Final = 24
#: A mean within this fraction of the held voltage still belongs to it (chargers hold to about
#: 0.3 %, common practice); the held voltage follows slowly, as compensation moves it.
SAME_HOLD: Final = 0.004
FOLLOW: Final = 0.1
#: The current settles for so many bins after a hold begins; its lowest is looked for after that.
SETTLING_BINS: Final = 3
#: A current that falls to this share of itself within an hour or two of a hold tapers.
TAPER_BINS: Final = 12
TAPERED: Final = 0.85
#: Fall of the current over two hours below which it no longer falls: 2 % of itself, or 0.05 % of
#: C20 (common practice ends a charge when the current has moved less than 0.1 A in an hour).
FLAT_SHARE: Final = 0.02
FLAT_RATE: Final = 0.0005


class HeldCurrent:
    """The voltage held now. `seconds` it has been held for, 0 where none is."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "volts",
        "seconds",
        "amps",
        "celsius",
        "low_amps",
        "low_celsius",
        "_bins",
        "_held_bins",
        "_end",
        "_sum_volts",
        "_sum_amps",
        "_sum_celsius",
        "_count",
        "_celsius_count",
    )
    __slots__ = (*KEPT, "bank")

    def __init__(self, bank: Bank) -> None:
        self.bank = bank
        self.volts = 0.0
        self.seconds = 0.0
        self.amps = 0.0
        self.celsius: float | None = None
        self.low_amps = 0.0
        self.low_celsius: float | None = None
        self._bins: list[float] = []
        self._held_bins = 0
        self._end: float | None = None
        self._sum_volts = 0.0
        self._sum_amps = 0.0
        self._sum_celsius = 0.0
        self._count = 0
        self._celsius_count = 0

    def add(self, seconds: float, volts: float, amps: float, celsius: float | None) -> None:
        """Add a minute's means; a bin closes every five minutes."""
        if self._end is None or seconds > self._end + BIN_SECONDS:
            self._lose()
            self._end = seconds + BIN_SECONDS
        self._sum_volts += volts
        self._sum_amps += amps
        self._count += 1
        if celsius is not None:
            self._sum_celsius += celsius
            self._celsius_count += 1
        if seconds >= self._end:
            self._end = seconds + BIN_SECONDS
            self._close()

    def _lose(self) -> None:
        """Nothing was seen for a while: whatever was held is over."""
        self.seconds = 0.0
        self._held_bins = 0
        self._bins = []
        self._clear()

    def _clear(self) -> None:
        self._sum_volts = self._sum_amps = self._sum_celsius = 0.0
        self._count = self._celsius_count = 0

    def _close(self) -> None:
        volts = self._sum_volts / self._count
        amps = self._sum_amps / self._count
        celsius = self._sum_celsius / self._celsius_count if self._celsius_count else None
        self._clear()
        if self._held_bins and abs(volts - self.volts) <= SAME_HOLD * self.volts:
            self.volts += FOLLOW * (volts - self.volts)
            self._held_bins += 1
            self.seconds += BIN_SECONDS
        else:
            self.volts = volts
            self._held_bins = 1
            self.seconds = BIN_SECONDS
            self._bins = []
        self.amps = amps
        self.celsius = celsius
        self._bins.append(amps)
        del self._bins[:-BINS]
        if self._held_bins <= SETTLING_BINS or amps < self.low_amps:
            self.low_amps = amps
            self.low_celsius = celsius

    @property
    def warming(self) -> float:
        """Degrees gained since the current was lowest; 0 where not known."""
        if self.celsius is None or self.low_celsius is None:
            return 0.0
        return self.celsius - self.low_celsius

    @property
    def rise_rate(self) -> float:
        """How far the current has risen above its lowest in this hold, as a fraction of C20."""
        if self._held_bins <= SETTLING_BINS:
            return 0.0
        return (self.amps - self.low_amps) / self.bank.amp_hours

    @property
    def tapered(self) -> bool:
        """True where the current has fallen by a good part in the last hour or two of this hold."""
        if len(self._bins) < TAPER_BINS or self._held_bins < TAPER_BINS:
            return False
        return self._bins[-1] < TAPERED * self._bins[0] and self._bins[-1] > 0.0

    @property
    def flat(self) -> bool:
        """True where the current has not fallen any more for two hours."""
        if len(self._bins) < BINS:
            return False
        fall = self._bins[0] - self._bins[-1]
        return fall < max(FLAT_SHARE * self.amps, FLAT_RATE * self.bank.amp_hours)
