"""Devices as the engine hears them: how often each speaks, what it last gave, whether it is silent.

A `Slot` is one quantity of one owner, from whichever device gives it best: the one configured
first while it is fresh, otherwise the next.
"""

from __future__ import annotations

from typing import ClassVar, Final

from adapters.reading import QUANTITIES, Channel, OwnLink, Quantity
from monitor.engine.duration import duration
from monitor.engine.snapshot import Measured

#: A figure is stale after so many periods of its device, and never sooner than so many seconds
#: (common practice: two lost polls are no news, three are).
STALE_PERIODS: Final = 3.0
STALE_SECONDS: Final = 3.0
#: A device of which nobody said how often it speaks is first taken to speak this often.
UNKNOWN_PERIOD: Final = 5.0
#: A silent device is reported after its stale limit, and never sooner than this.
SILENT_SECONDS: Final = 15.0
#: Figures that make a share, and how much of a new share counts once a minute (ten minutes).
LEAST_VALUES: Final = 10
REFUSED_FOLLOW: Final = 0.1
#: How much of a new share of lost polls counts once a minute (ten minutes), and of the figures
#: refused how many are still counted a minute later (an hour).
LOST_FOLLOW: Final = 0.1
REFUSED_LEFT: Final = 59.0 / 60.0
OWN_NAMES: Final = frozenset(link.value for link in OwnLink)
#: Figures without which a bank is not seen at all: missed where their device answers without them.
NEEDED: Final = (Quantity.BANK_VOLTS, Quantity.BANK_AMPS)
#: The reason of a device until it speaks or somebody tells of its link.
NOT_HEARD: Final = "not heard yet"
NEVER: Final = float("-inf")
#: Older than anything, and still plain JSON.
BEFORE_ALL: Final = -1e18
ABSURD: Final = float("inf")
#: Share of a new interval in what is learned of a device's period: ten readings or so.
PERIOD_SHARE: Final = 0.1


class Device:
    """One device as the engine hears it. `limit` is the age at which its figures are stale."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "last",
        "period",
        "limit",
        "up",
        "reason",
        "since",
        "values",
        "refused",
        "refused_share",
        "refused_an_hour",
        "lost_share",
        "told_period",
        "begun",
    )
    __slots__ = (*KEPT, "configured_period", "given", "name", "own")

    def __init__(self, name: str, configured_period: float | None) -> None:
        self.name = name
        self.configured_period = configured_period
        #: One of the tool's own links, and no device at all.
        self.own = configured_period is None and name in OWN_NAMES
        self.given: dict[Channel, Given | None] = {}
        self.last: float | None = None
        self.period = configured_period or UNKNOWN_PERIOD
        self.limit = max(STALE_SECONDS, STALE_PERIODS * self.period)
        self.up = True
        self.reason = NOT_HEARD
        self.since = 0.0
        self.values = 0
        self.refused = 0
        self.refused_share = 0.0
        #: Figures refused within the last hour or so.
        self.refused_an_hour = 0.0
        #: Share of its polls that brought nothing, over ten minutes or so.
        self.lost_share = 0.0
        #: Seconds between two polls that somebody asked for; None: as configured.
        self.told_period: float | None = None
        #: When somebody began to listen again after a while in which nobody did.
        self.begun = BEFORE_ALL

    @property
    def expected_period(self) -> float | None:
        """How often it is polled, as far as anybody said."""
        return self.configured_period if self.told_period is None else self.told_period

    def tell_period(self, seconds: float | None) -> None:
        """From now on it is polled this often; None: as configured. Slower is no lost poll."""
        self.told_period = seconds
        self.period = self.expected_period or UNKNOWN_PERIOD
        self.limit = max(STALE_SECONDS, STALE_PERIODS * self.period)

    def quiet(self, now: float) -> float:
        """For how long it has said nothing while somebody listened."""
        heard = self.since if self.last is None else self.last
        return now - max(heard, self.begun)

    def silent(self, now: float) -> bool:
        """True where it should have spoken long ago; `since` stands for one never heard.

        One that nobody configured and that never gave a figure owes none: the recorder is such.
        """
        last = self.last
        if last is None and self.configured_period is None:
            return False
        quiet = self.quiet(now)
        return quiet > SILENT_SECONDS and quiet > self.limit

    def look(self) -> None:
        """Once a minute: how many figures could not be believed, and how many polls were lost.

        Too few figures to judge leave the shares as they are.
        """
        self.refused_an_hour *= REFUSED_LEFT
        if self.values >= LEAST_VALUES:
            share = self.refused / self.values
            self.refused_share += REFUSED_FOLLOW * (share - self.refused_share)
            self.refused_an_hour += self.refused
            self.values = self.refused = 0
        expected = self.expected_period
        if expected is not None and self.up:
            lost = 1.0 - expected / self.period
            self.lost_share += LOST_FOLLOW * (lost - self.lost_share)

    @property
    def missing(self) -> tuple[float, str]:
        """For how long it has answered without a figure that it gave before, and which."""
        longest, what = 0.0, ""
        if self.last is not None and self.up:
            for channel, given in self.given.items():
                if given is None or channel.quantity not in NEEDED or not given.heard:
                    continue
                missed = self.last - given.seconds
                if missed > longest:
                    longest, what = missed, QUANTITIES[channel.quantity].words
        return longest, what

    def heard(self, seconds: float) -> bool:
        """Note that the device spoke; False where it had spoken of this moment or a later one.

        A device may speak more slowly than the config says: its period is learned upwards, so
        that a slow one is not called silent between any two of its readings.
        """
        last = self.last
        if last is not None:
            interval = seconds - last
            if interval == self.period:  # as ever: nothing to learn
                self.last = seconds
                return True
            if interval <= 0.0:
                return False
            longest = self.limit
            if interval > longest:
                interval = longest
            period = self.period + PERIOD_SHARE * (interval - self.period)
            configured = self.expected_period
            if configured is not None and period < configured:
                period = configured
            if period != self.period:
                self.period = period
                self.limit = max(STALE_SECONDS, STALE_PERIODS * period)
        self.last = seconds
        return True


class Given:
    """One channel as one device gives it. `place` is that of the bank or source that may have
    to step on it, -1 for none."""

    __slots__ = ("channel", "device", "figure", "high", "low", "place", "seconds", "slot")

    def __init__(self, device: Device, channel: Channel, slot: Slot, place: int) -> None:
        properties = QUANTITIES[channel.quantity]
        self.device = device
        self.channel = channel
        self.slot = slot
        self.place = place
        text = channel.quantity is Quantity.REPORTED_STAGE
        self.low = ABSURD if text else properties.low
        self.high = properties.high
        self.figure: float | str = 0.0
        self.seconds = NEVER

    def narrow(self, span: tuple[float, float] | None) -> None:
        """Believe no more than what this owner could show, where that is known."""
        if span is not None:
            self.low = max(self.low, span[0])
            self.high = min(self.high, span[1])

    @property
    def heard(self) -> bool:
        return self.seconds > NEVER


class Slot:
    """One quantity of one owner, from whichever device gives it best."""

    __slots__ = ("givens",)

    def __init__(self) -> None:
        self.givens: list[Given] = []

    def best(self, now: float, hold: float = 0.0) -> Given | None:
        """The figure of the first configured device that is fresh, or None."""
        for given in self.givens:
            age = now - given.seconds
            device = given.device
            if age <= device.limit:
                if device.up or hold:
                    return given
            elif age <= hold:
                return given
        return None

    def period(self, now: float) -> float:
        """How often whichever device gives it is polled, as far as anybody said, else 0."""
        given = self.best(now)
        return (given.device.expected_period or 0.0) if given is not None else 0.0

    def number(self, now: float, hold: float = 0.0) -> float | None:
        """The best figure as a number, or None."""
        given = self.best(now, hold)
        return None if given is None else float(given.figure)

    def measured(self, now: float) -> Measured:
        """The figure for a screen: with its age, or the reason why there is none."""
        heard = [given for given in self.givens if given.heard]
        if not heard:
            return Measured(None, None, "no device gives it")
        best = self.best(now)
        if best is not None:
            return Measured(float(best.figure), max(0.0, now - best.seconds))
        newest = max(heard, key=lambda given: given.seconds)
        age = max(0.0, now - newest.seconds)
        silent = "" if newest.device.up else f"{newest.device.name} is silent, "
        return Measured(None, age, f"{silent}last {duration(age)} ago")

    def lost(self) -> bool:
        """True where devices have given this, and every one of them is silent now."""
        return bool(self.givens) and not any(given.device.up for given in self.givens)
