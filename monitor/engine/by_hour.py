"""What is drawn and what the sun gives, by hour of the day, learned from the days before.

Fed once a minute; when an hour is over its mean becomes one day's news of that hour. Everything is
kept in watts: what lives aboard draws its power whatever the bank's voltage, and a panel gives its
own. Hours of the day are those of the wall clock's Unix time (UTC, so no summer time); before the
clock is known they are those of the engine's own seconds, and are turned when it becomes known.

An hour of sun in which a source held its voltage tells only that there was at least so much.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import ClassVar, Final, NamedTuple

from monitor.engine.snapshot import Learned

HOURS: Final = 24
HOUR_SECONDS: Final = 3600.0
DAY_SECONDS: Final = 86400.0
#: A clock that moved by less has not moved the hours (half a bin).
SAME_HOUR_SECONDS: Final = 900.0
#: Minutes of an hour that must have been seen for it to count, and unheld ones of sun (ours).
LEAST_MINUTES: Final = 30
LEAST_UNHELD: Final = 20
#: Days that are remembered (ours: a household's week; no weather lasts longer).
MEMORY_DAYS: Final = 7.0
#: Until days have shown how they differ they are taken to differ by this share (ours: people aboard
#: keep their habits, the weather does not), which counts as so many days of seeing.
LOAD_SHARE: Final = 0.3
SUN_SHARE: Final = 0.4
FIRST_DAYS: Final = 1.0
#: Hours of one day hang together by this correlation (ours; 0 would be independent hours, 1 one
#: figure for the day): a heavy evening is heavy in most of its hours, a dull day in nearly all.
LOAD_TOGETHER: Final = 0.5
SUN_TOGETHER: Final = 0.7


#: An hour counts as one in which something flows above this share of the greatest (ours).
FLOWS: Final = 0.1


class Total(NamedTuple):
    """A sum over a stretch of time, with its standard deviation."""

    figure: float
    sd: float


class Hourly(NamedTuple):
    """Watts by hour of the day, with the deviation of a coming day's hour; an hour never seen has
    None. `turn` seconds are added to the engine's own to give the time of day; `days` of the hour
    that was seen most often, of those in which something flowed; `together` the correlation of
    the hours of one day."""

    watts: tuple[float | None, ...]
    sd: tuple[float, ...]
    turn: float
    days: float
    together: float = LOAD_TOGETHER

    def at(self, seconds: float) -> float | None:
        """Watts at a moment of the engine's time."""
        return self.watts[self._hour(seconds)]

    def total(self, start: float, end: float, unseen: Total) -> Total:
        """Watt-hours from one moment to another; an hour never seen counts as `unseen` watts."""
        figure = alone = together = 0.0
        moment = start
        while moment < end:
            hour = self._hour(moment)
            into = (moment + self.turn) % HOUR_SECONDS
            until = min(end, moment + HOUR_SECONDS - into)
            share = (until - moment) / HOUR_SECONDS
            watts, sd = self.watts[hour], self.sd[hour]
            if watts is None:
                watts, sd = unseen
            figure += share * watts
            alone += (share * sd) ** 2
            together += share * sd
            moment = until
        share = self.together
        return Total(figure, math.sqrt((1.0 - share) * alone + share * together * together))

    @property
    def mean(self) -> float:
        """Watts of the day as a whole, over the hours that were seen."""
        seen = [watts for watts in self.watts if watts is not None]
        return sum(seen) / len(seen) if seen else 0.0

    def _hour(self, seconds: float) -> int:
        return int((seconds + self.turn) % DAY_SECONDS // HOUR_SECONDS)


class Track:
    """One thing by hour: mean and variance of its days, how many, and when it was last news."""

    KEPT: ClassVar[tuple[str, ...]] = ("days", "mean", "seconds", "variance")
    __slots__ = (*KEPT, "_any_hour", "_share")

    def __init__(self, share: float, any_hour: bool) -> None:
        """`share` by which days are first taken to differ; `any_hour`: what an hour never showed
        may come in it all the same, as with loads, not with the sun."""
        self._share = share
        self._any_hour = any_hour
        self.days = [0.0] * HOURS
        self.mean = [0.0] * HOURS
        self.seconds = [0.0] * HOURS
        self.variance = [0.0] * HOURS

    def note(self, hour: int, watts: float, seconds: float) -> None:
        """One day's mean of an hour."""
        days = self.days[hour]
        gain = max(1.0 / (days + 1.0), 1.0 / MEMORY_DAYS)
        off = watts - self.mean[hour]
        self.mean[hour] += gain * off
        if days > 0.0:
            spread = self.variance[hour] + gain * off * off
            self.variance[hour] = (1.0 - gain) * spread
        self.days[hour] = days + 1.0
        self.seconds[hour] = seconds

    def turned(self, hours: int) -> None:
        """What was taken for hour 0 was hour `hours`."""
        for name in Track.KEPT:
            old = getattr(self, name)
            setattr(self, name, old[-hours:] + old[:-hours])

    def sds(self) -> list[float]:
        """Deviations of a coming day's hours from the means of those seen; 0 where none was."""
        seen = [mean for mean, days in zip(self.mean, self.days, strict=True) if days > 0.0]
        least = sum(seen) / len(seen) if seen and self._any_hour else 0.0
        return [self._sd(hour, least) for hour in range(HOURS)]

    def _sd(self, hour: int, least: float) -> float:
        days = min(self.days[hour], MEMORY_DAYS)
        if days <= 0.0:
            return 0.0
        first = (self._share * max(self.mean[hour], least)) ** 2
        # the variance that was followed is that of days about their own mean
        own = self.variance[hour] * days / max(days - 1.0, 1.0)
        spread = (FIRST_DAYS * first + (days - 1.0) * own) / (FIRST_DAYS + days - 1.0)
        return math.sqrt(spread * (1.0 + 1.0 / days))

    def hourly(self, turn: float, together: float) -> Hourly | None:
        """As it stands; None before the first hour."""
        if not any(self.days):
            return None
        most = max(self.mean)
        flowing = [
            days for days, mean in zip(self.days, self.mean, strict=True) if mean > FLOWS * most
        ]
        return Hourly(
            tuple(self.mean[n] if self.days[n] else None for n in range(HOURS)),
            tuple(self.sds()),
            turn,
            max(flowing, default=0.0),
            together,
        )


class ByHour:
    """Loads and sun of one bank by hour of the day. `look` once a minute."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "_dated",
        "_hour",
        "_load_minutes",
        "_load_sum",
        "_opened",
        "_sun_minutes",
        "_sun_sum",
        "_unheld_minutes",
        "_unheld_sum",
        "least",
        "load",
        "sun",
        "turn",
    )
    __slots__ = KEPT

    def __init__(self) -> None:
        self.load = Track(LOAD_SHARE, any_hour=True)
        self.sun = Track(SUN_SHARE, any_hour=False)
        #: Of hours in which the sun was held back: it gave at least this.
        self.least = [0.0] * HOURS
        #: Seconds that make the engine's time the time of day.
        self.turn = 0.0
        self._dated = False
        self._hour = -1
        self._opened = 0.0
        self._clear()

    def _clear(self) -> None:
        self._load_minutes = 0
        self._load_sum = 0.0
        self._sun_minutes = 0
        self._sun_sum = 0.0
        self._unheld_minutes = 0
        self._unheld_sum = 0.0

    @property
    def dated(self) -> bool:
        """The wall clock was known, so that hours are hours of the day."""
        return self._dated

    def usual_watts(self, seconds: float) -> float | None:
        """Loads as they usually are at this hour, else at any, else in this one so far."""
        hour = self._hour_of(seconds)
        if self.load.days[hour] > 0.0:
            return self.load.mean[hour]
        known = [self.load.mean[n] for n in range(HOURS) if self.load.days[n] > 0.0]
        if known:
            return sum(known) / len(known)
        return self.recent_watts

    @property
    def recent_watts(self) -> float | None:
        """Mean load of the hour that is not over yet; None before any was seen in it."""
        return self._load_sum / self._load_minutes if self._load_minutes else None

    def look(
        self,
        seconds: float,
        wall_offset: float | None,
        load_watts: float | None,
        sun_watts: float | None,
        held: bool,
    ) -> None:
        """One minute's loads and sun, None where not known; `held`: a source held its voltage."""
        if wall_offset is not None:
            self._set_clock(wall_offset)
        hour = self._hour_of(seconds)
        if hour != self._hour or seconds - self._opened > HOUR_SECONDS:
            self._close(seconds)
            self._hour = hour
            self._opened = seconds
        if load_watts is not None:
            self._load_minutes += 1
            self._load_sum += load_watts
        if sun_watts is not None:
            self._sun_minutes += 1
            self._sun_sum += sun_watts
            if not held:
                self._unheld_minutes += 1
                self._unheld_sum += sun_watts

    def _hour_of(self, seconds: float) -> int:
        return int((seconds + self.turn) % DAY_SECONDS // HOUR_SECONDS)

    def _close(self, seconds: float) -> None:
        hour = self._hour
        if hour >= 0 and self._load_minutes >= LEAST_MINUTES:
            # meters that err by a little below nothing must not make a load that gives
            self.load.note(hour, max(0.0, self._load_sum / self._load_minutes), seconds)
        if hour >= 0 and self._sun_minutes >= LEAST_MINUTES:
            self._close_sun(hour, seconds)
        self._clear()

    def _close_sun(self, hour: int, seconds: float) -> None:
        if self._unheld_minutes >= LEAST_UNHELD:
            self.sun.note(hour, max(0.0, self._unheld_sum / self._unheld_minutes), seconds)
            return
        watts = max(0.0, self._sun_sum / self._sun_minutes)
        self.least[hour] = max(self.least[hour], watts)
        if self.sun.days[hour] > 0.0 and watts > self.sun.mean[hour]:
            self.sun.note(hour, watts, seconds)

    def _set_clock(self, wall_offset: float) -> None:
        """News of the clock turns what was learned by the hours that it moved."""
        moved = (wall_offset - self.turn + DAY_SECONDS / 2.0) % DAY_SECONDS - DAY_SECONDS / 2.0
        if self._dated and abs(moved) < SAME_HOUR_SECONDS:
            return
        self._dated = True
        self.turn = wall_offset
        hours = round(moved / HOUR_SECONDS) % HOURS
        if hours:
            self.load.turned(hours)
            self.sun.turned(hours)
            self.least = self.least[-hours:] + self.least[:-hours]
        self._hour = -1
        self._clear()

    def loads(self) -> Hourly | None:
        return self.load.hourly(self.turn, LOAD_TOGETHER)

    def suns(self) -> Hourly | None:
        """Sun by hour, where it was seen unheld."""
        return self.sun.hourly(self.turn, SUN_TOGETHER)

    def view(self) -> tuple[Learned, ...]:
        """Every hour that was seen, as something learned; hours are of Unix time (UTC)."""
        return (
            *self._rows("load-by-hour", "usual load", self.load),
            *self._rows("sun-by-hour", "usual sun", self.sun),
        )

    def _rows(self, name: str, words: str, track: Track) -> Iterator[Learned]:
        clock = "UTC" if self._dated else "of an unknown clock"
        offset = self.turn if self._dated else None
        deviations = track.sds()
        for hour in range(HOURS):
            if track.days[hour]:
                yield Learned(
                    f"{name}/{hour:02d}",
                    f"{words} from {hour}:00 to {(hour + 1) % HOURS}:00 {clock}",
                    "W",
                    track.mean[hour],
                    deviations[hour],
                    track.seconds[hour],
                    offset,
                )
