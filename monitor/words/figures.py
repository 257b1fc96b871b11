"""Figures as a person reads them: rounded to what the measurement is worth, missing as `--`.

Everything here is a pure function from a number to text. Rounding also keeps a screen calm: a
figure that changes only in digits nobody can trust does not change at all.
"""

from __future__ import annotations

import math
from datetime import datetime, tzinfo
from typing import Final, NamedTuple

from monitor.engine.duration import duration
from monitor.engine.snapshot import Estimate, Interval
from monitor.words.days import day_month, weekday

#: Stands where a figure is unknown or too old to be shown.
MISSING: Final = "--"

#: What stands behind a figure, on the same line.
UNITS: Final = (
    *("%", "A", "V", "W", "Ah", "°C", "°F", "mV", "mΩ", "mohm", "ms", "Hz", "h", "min", "s"),
    "days",
)

_WRITTEN: Final = {"mohm": "mΩ"}


def written(unit: str) -> str:
    """A unit as people write it, where a capture and a command line have it in letters."""
    return _WRITTEN.get(unit, unit)


_MINUTE: Final = 60.0
_HOUR: Final = 3600.0
_DAY: Final = 86400.0

# Shunts on house banks resolve 0.1 A and are good to about 1 % (common practice), so tenths stop
# at 10 A; volts are read to 10 mV; temperature sensors are good to a degree or two.
_TENTHS_BELOW_AMPS: Final = 10.0


def _whole(figure: float) -> int:
    """Rounded, and never a minus before a nought."""
    return round(figure)


def volts(figure: float | None) -> str:
    return MISSING if figure is None else f"{figure:.2f} V"


def amps_number(figure: float) -> str:
    """Amps without sign and unit: `9.4`, `18`, `0`."""
    size = abs(figure)
    tenths = round(size, 1)
    if tenths == 0:
        return "0"
    return f"{tenths:.1f}" if tenths < _TENTHS_BELOW_AMPS else f"{size:.0f}"


def sign(figure: float) -> str:
    """`+` into the bank, `-` out of it, nothing where nothing flows."""
    if amps_number(figure) == "0":
        return ""
    return "+" if figure > 0 else "-"


def amps(figure: float | None) -> str:
    """Amps without a sign, for things that flow one way only."""
    return MISSING if figure is None else f"{amps_number(figure)} A"


def signed_amps(figure: float | None) -> str:
    return MISSING if figure is None else f"{sign(figure)}{amps_number(figure)} A"


def degree_unit(fahrenheit: bool) -> str:
    return "°F" if fahrenheit else "°C"


def degrees(celsius: float, fahrenheit: bool) -> float:
    """A temperature in the unit in which the person reads it."""
    return celsius * 1.8 + 32.0 if fahrenheit else celsius


def temperature(figure: float | None, fahrenheit: bool) -> str:
    """A temperature as the person reads it."""
    if figure is None:
        return MISSING
    return f"{_whole(degrees(figure, fahrenheit))} {degree_unit(fahrenheit)}"


def watts(figure: float | None, signed: bool = False) -> str:
    """Watts, no finer than amps good to 1 % make them: in steps of 5 from 100 W on, 10, 50."""
    if figure is None:
        return MISSING
    size = abs(figure)
    step = next((step for below, step in _WATT_STEPS if size < below), 50)
    rounded = step * round(size / step)
    lead = "" if not signed or not rounded else "+" if figure > 0 else "-"
    return f"{lead}{rounded} W"


_WATT_STEPS: Final = ((100.0, 1), (1000.0, 5), (5000.0, 10))


def percent(fraction: float | None) -> str:
    return MISSING if fraction is None else f"{_whole(100 * fraction)} %"


def probability(fraction: float) -> str:
    """Certainty in percent, never claiming the whole of it."""
    if fraction > 0.99:
        return "over 99 %"
    return "under 1 %" if fraction < 0.01 else percent(fraction)


#: A stretch of time: the sentences of the engine and the screens say it alike.
span: Final = duration


def ago(seconds: float) -> str:
    return "just now" if seconds < 10 else f"{span(seconds)} ago"


def low_to_high(low: str, high: str, between: str = "to") -> str:
    """`8 to 14 h`, `2 h to 3 h 30 min`: two figures, and their unit once where it is the same."""
    figure, _, unit = low.partition(" ")
    shared = unit and " " not in unit and high.endswith(f" {unit}") and high.count(" ") == 1
    return f"{figure if shared else low} {between} {high}"


class Clock(NamedTuple):
    """Turns monotonic seconds into local wall time; `zone` None means the machine's own, `twelve`
    a clock of twelve hours."""

    offset: float | None
    zone: tzinfo | None = None
    twelve: bool = False

    def time(self, seconds: float) -> datetime | None:
        if self.offset is None:
            return None
        return datetime.fromtimestamp(seconds + self.offset, self.zone)

    def hour(self, moment: datetime) -> str:
        """`14:32`, or `2:32 pm`."""
        if not self.twelve:
            return f"{moment:%H:%M}"
        return f"{moment.hour % 12 or 12}:{moment:%M} {'am' if moment.hour < 12 else 'pm'}"

    def at(self, seconds: float, now: float) -> str | None:
        """`14:32`, with the day where that is in doubt; None while the wall clock is unknown."""
        moment, today = self.time(seconds), self.time(now)
        if moment is None or today is None:
            return None
        text = self.hour(moment)
        days = (moment.date() - today.date()).days
        if days == 0 or abs(seconds - now) < _DAY / 2:
            return text
        if abs(days) == 1:
            return f"{text} {'tomorrow' if days > 0 else 'yesterday'}"
        return f"{weekday(moment) if abs(days) < 7 else day_month(moment)} {text}"


class GiveOrTake(NamedTuple):
    """A fraction in percent and the distance that holds the truth 19 times in 20 (2 sd)."""

    percent: int
    take: int

    @property
    def step(self) -> int:
        """How many points the figure is rounded to."""
        return 1 if self.take < 10 else 5

    @property
    def figure(self) -> str:
        return f"{self.percent} %"

    @property
    def doubt(self) -> str:
        return f"give or take {self.take}"

    @property
    def brief_doubt(self) -> str:
        """The same where there is no room for words."""
        return f"±{self.take}"


def give_or_take(estimate: Estimate) -> GiveOrTake | None:
    """State of charge in a person's words; where doubt is ten points or more, in steps of five."""
    if estimate.figure is None:
        return None
    take = math.ceil(200 * estimate.sd - 1e-6) if estimate.sd is not None else 0
    if take < 10:
        return GiveOrTake(round(100 * estimate.figure), max(take, 1))
    return GiveOrTake(5 * round(20 * estimate.figure), 5 * math.ceil(take / 5))


class Answer(NamedTuple):
    """A forecast in words. `parts` are (number, unit) for large print; empty without an answer."""

    parts: tuple[tuple[str, str], ...]
    text: str
    between: str
    seconds: float | None
    reason: str


# Steps that a person rounds a wait to, in minutes; the widest that is a quarter of the interval.
_STEPS: Final = (1, 5, 10, 30, 60)


def _minutes(seconds: float, step: int) -> int:
    return max(step * round(seconds / _MINUTE / step), 1)


def _step(interval: Interval) -> int:
    low, high = interval.low, interval.high
    if low is None or high is None or not math.isfinite(high):
        return 10 if (interval.seconds or 0) > _HOUR else 1
    quarter = (high - low) / _MINUTE / 4
    return max((step for step in _STEPS if step <= quarter), default=1)


def _parts(minutes: int) -> tuple[tuple[str, str], ...]:
    if minutes < 60:
        return ((str(minutes), "min"),)
    hours, rest = divmod(minutes, 60)
    if hours < 10 and rest:
        return ((str(hours), "h"), (f"{rest:02d}", "min"))
    if hours < 48:
        return ((str(hours + (rest >= 30)), "h"),)
    days = round(hours / 24)
    return ((str(days), "days"),)


def _together(parts: tuple[tuple[str, str], ...]) -> str:
    return " ".join(f"{number} {unit}" for number, unit in parts)


def answer(interval: Interval) -> Answer:
    """A wait with its interval, rounded by how wide the interval is."""
    if interval.seconds is None:
        return Answer((), MISSING, "", None, interval.reason)
    step = _step(interval)
    parts = _parts(_minutes(interval.seconds, step))
    between = ""
    if interval.low is not None:
        low = _together(_parts(_minutes(interval.low, step)))
        if interval.high is None or not math.isfinite(interval.high):
            between = f"{low} or more"
        else:
            high = _together(_parts(_minutes(interval.high, step)))
            between = low_to_high(low, high) if low != high else ""
    rounded = _MINUTE * _minutes(interval.seconds, step)
    return Answer(parts, _together(parts), between, rounded, interval.reason)
