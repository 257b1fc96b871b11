"""The evening's questions: how full at dawn, and does tomorrow's sun fill the bank?

Pure functions of an `Outlook`; each gives a frozen answer with its interval and its assumptions in
words, or the reason in words why there is none. They run the charge filter's circuit forward
(`charge_run.run`) with the loads and the sun that were learned by hour of the day. What a generator
must do is in `plan_generator.py`, what an inverter may in `plan_load.py`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from monitor.engine import daylight
from monitor.engine.by_hour import DAY_SECONDS, HOUR_SECONDS
from monitor.engine.charge_run import Goal
from monitor.engine.outlook import Outlook
from monitor.engine.snapshot import Stage
from monitor.engine.ways import Error, Likely, Point, course, likely, net_rate

#: Dawn and dusk where the place is not known (ours: a household's day), hours after midnight.
DAWN_HOUR: Final = 7.0
DUSK_HOUR: Final = 19.0
#: What the circuit leaves out over a night or a day, as a fraction of charge (ours).
MODEL_SOC: Final = 0.01
#: Days of sun before the next one may be judged by them (ours: one day may be any day).
SUN_DAYS: Final = 2.0
#: Stands for a bank that reached its source's end of charge, whatever that leaves to go.
FULL: Final = 1.0
NO_READING: Final = "no reading of volts and amps yet"
NO_CLOCK: Final = "the time of day is not known; set the clock of this machine"


class Verdict(StrEnum):
    YES = "yes"
    DOUBTFUL = "doubtful"
    NO = "no"


@dataclass(frozen=True, slots=True)
class Moment:
    """A time to come: monotonic `seconds` of the engine, and how it was found, in words; `asked`
    where a person named it."""

    seconds: float
    words: str
    asked: bool = False


@dataclass(frozen=True, slots=True)
class DawnAnswer:
    """State of charge at `dawn`; `load_amp_hours` drawn until then. None with `reason`."""

    soc: Likely | None
    dawn: Moment | None
    load_amp_hours: Likely | None
    assumptions: tuple[str, ...]
    reason: str = ""


@dataclass(frozen=True, slots=True)
class SunAnswer:
    """Whether the next day's sun fills the bank.

    `soc` at the day's end, `full_seconds` the engine's time at which it is full (None where it
    would not be), `amp_hours` that the sun can give in that day. None with `reason`.
    """

    fills: Verdict | None
    soc: Likely | None
    full_seconds: Likely | None
    amp_hours: Likely | None
    day: tuple[float, float] | None
    assumptions: tuple[str, ...]
    reason: str = ""


def unplanned(view: Outlook | None) -> str:
    """Why nothing may be planned: no bank was read, or none is now."""
    return NO_READING if view is None else view.unread


# When is dawn?


def next_dawn(view: Outlook, zone_seconds: float | None) -> Moment | None:
    """The next sunrise, else the next 07:00; None where the time of day is not known.

    `zone_seconds` east of Greenwich of the clock on the wall, None where not known.
    """
    wall = view.wall
    if wall is None:
        return None
    if view.place is not None:
        rises = daylight.next_sunrise(view.place, wall)
        if rises is not None:
            return Moment(view.seconds + rises - wall, "dawn by the sun's height at this place")
        why = "the sun does not rise here now"
    else:
        why = "latitude and longitude are not configured"
    seconds = _next_hour(wall, DAWN_HOUR, zone_seconds)
    return Moment(view.seconds + seconds, f"dawn at 07:00, since {why}")


def _dusk(view: Outlook, dawn: float, zone_seconds: float | None) -> float:
    """The end of the day that begins at `dawn`, as the engine's seconds."""
    offset = view.wall_offset or 0.0
    if view.place is not None:
        sets = daylight.next_sunset(view.place, dawn + offset + 60.0)
        if sets is not None and sets - dawn - offset < DAY_SECONDS:
            return sets - offset
    return dawn + _next_hour(dawn + offset, DUSK_HOUR, zone_seconds)


def _next_hour(wall: float, hour: float, zone_seconds: float | None) -> float:
    """Seconds until the clock on the wall next shows an hour."""
    now = (wall + (zone_seconds or 0.0)) % DAY_SECONDS
    return (hour * HOUR_SECONDS - now) % DAY_SECONDS


# How full at dawn?


def dawn(
    view: Outlook | None, zone_seconds: float | None = None, at: Moment | None = None
) -> DawnAnswer:
    """State of charge at dawn (or `at` another moment) with the usual night's load."""
    if view is None or view.unread:
        return DawnAnswer(None, None, None, (), unplanned(view))
    when = next_dawn(view, zone_seconds) if at is None else at
    if when is None:
        return DawnAnswer(None, None, None, (), NO_CLOCK)
    start, end = view.seconds, when.seconds
    watt_hours = view.load_between(start, end)
    if watt_hours is None:
        return DawnAnswer(None, when, None, (when.words,), "no load was seen yet")
    hours = (end - start) / HOUR_SECONDS

    def ask(point: Point) -> tuple[float, ...]:
        rate = net_rate(view, point, start, end, sunny=True)
        drawn = net_rate(view, point, start, end, sunny=False)
        steps = max(1, round(hours * 4.0))
        width = hours / steps
        taken = -sum(drawn((n + 0.5) * width) for n in range(steps)) * width * point.amp_hours
        return course(view, point, rate, Goal(), hours).soc, taken

    soc, taken = likely(view, ask, Error(floor=MODEL_SOC))
    words = (when.words, _source_words(view, start, end), load_words(view))
    return DawnAnswer(soc.within(0.0, 1.0), when, taken.within(0.0, 1e9), words)


def _source_words(view: Outlook, start: float, end: float) -> str:
    """What charges until then."""
    sun = view.sun_between(start, end)
    charging = view.stage not in (Stage.REST, Stage.DISCHARGE)
    now = "what charges now stops now" if charging else "no source comes on"
    if sun is not None and sun.figure > 0.0:
        return f"{now}; until dark the sun gives what it usually does"
    return now


def load_words(view: Outlook) -> str:
    """Which loads were taken."""
    hourly = view.load
    if hourly is None:
        return "loads go on as in this hour: no whole hour of them was seen yet"
    days = round(hourly.days)
    unseen = sum(watts is None for watts in hourly.watts)
    missing = f", {unseen} hours of the day never seen" if unseen else ""
    return f"loads by hour of the day, of {days} {'day' if days == 1 else 'days'}{missing}"


# Does tomorrow's sun fill the bank?


def sun(view: Outlook | None, zone_seconds: float | None = None) -> SunAnswer:
    """Whether the sun of the day that begins at the next dawn fills the bank."""
    if view is None or view.unread:
        return _no_sun(unplanned(view))
    if not any(source.kind == "solar" for source in view.sources):
        return _no_sun("no source of the kind solar is configured at this bank")
    rises = next_dawn(view, zone_seconds)
    if rises is None:
        return _no_sun(NO_CLOCK)
    days = 0.0 if view.sun is None else view.sun.days
    if days < SUN_DAYS:
        more = round(SUN_DAYS - days)
        return _no_sun(
            f"not known yet: needs {more} more {'day' if more == 1 else 'days'} of sun "
            "with the bank not full"
        )
    start, end = rises.seconds, _dusk(view, rises.seconds, zone_seconds)
    hours = (end - start) / HOUR_SECONDS
    night = (start - view.seconds) / HOUR_SECONDS

    def ask(point: Point) -> tuple[float, ...]:
        before = net_rate(view, point, view.seconds, start, sunny=True)
        morning = course(view, point, before, Goal(), night).soc
        began = point._replace(soc=morning, polarisation=0.0)
        rate = net_rate(view, began, start, end, sunny=True)
        day = course(view, began, rate, Goal(view.end_amps / point.amp_hours), hours)
        full = day.hours is not None
        return (
            day.soc,
            FULL if full else day.soc,
            hours if day.hours is None else day.hours,
            _given(view, point, start, end),
        )

    soc, filled, when, amp_hours = likely(view, ask, Error(floor=MODEL_SOC))
    verdict = Verdict.DOUBTFUL
    if filled.low >= FULL:
        verdict = Verdict.YES
    elif filled.high < FULL:
        verdict = Verdict.NO
    full_at = None
    if when.figure < hours:
        late = when.within(0.0, hours)
        full_at = Likely(*(start + value * HOUR_SECONDS for value in late))
    words = (
        rises.words,
        f"sun by hour of the day, of {days:.0f} days; no other source comes on",
        load_words(view),
    )
    return SunAnswer(
        verdict, soc.within(0.0, 1.0), full_at, amp_hours.within(0.0, 1e9), (start, end), words
    )


def _given(view: Outlook, point: Point, start: float, end: float) -> float:
    """Ampere-hours of the sun in a day, at the volts at which they flow in."""
    total = view.sun_between(start, end)
    if total is None:
        return 0.0
    volts = view.bank.cells * 0.5 * (point.circuit.curve.at(point.soc) + point.held_volts)
    return max(0.0, total.figure + point.sun * total.sd) / volts


def _no_sun(reason: str) -> SunAnswer:
    return SunAnswer(None, None, None, None, None, (), reason)
