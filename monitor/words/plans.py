"""Answers to the evening's questions in words: at most eight lines of eighty columns each."""

from __future__ import annotations

import math
import textwrap
from typing import Final, NamedTuple

from monitor.engine.plan import DawnAnswer, SunAnswer, Verdict
from monitor.engine.plan_generator import GeneratorAnswer
from monitor.engine.plan_load import LoadAnswer
from monitor.engine.snapshot import Estimate
from monitor.engine.ways import Likely
from monitor.with_doubt import with_doubt
from monitor.words.figures import (
    Clock,
    amps,
    give_or_take,
    low_to_high,
    percent,
    span,
    volts,
)
from monitor.words.fitting import cut
from monitor.words.sentences import sentence

COLUMNS: Final = 80
LINES: Final = 8

#: Hands and lungs near a generator and an inverter (occupational advice on exhaust; common
#: practice).
GENERATOR_CAUTION: Final = (
    "Caution: exhaust kills. Run it outside, away from openings; ventilate the bank."
)
LOAD_CAUTION: Final = "Caution: cable and fuse must carry {amps}; feel for heat, never bypass."


class Told(NamedTuple):
    """An answer as sentences of any length: what is answered, what was assumed, a caution."""

    lines: list[str]
    assumptions: tuple[str, ...]
    caution: str = ""


def dawn_lines(
    bank: str, answer: DawnAnswer, soc: Estimate, lowest: float | None, now: float, clock: Clock
) -> list[str]:
    """The answer in lines of eighty columns."""
    return _in_lines(dawn_told(bank, answer, soc, lowest, now, clock))


def dawn_told(
    bank: str, answer: DawnAnswer, soc: Estimate, lowest: float | None, now: float, clock: Clock
) -> Told:
    """`house: 78 % at dawn (05:12), between 68 and 89 %`."""
    if answer.soc is None or answer.dawn is None:
        return _no_answer(bank, "how full at dawn", answer.reason, answer.assumptions)
    when = clock.at(answer.dawn.seconds, now)
    wait = span(answer.dawn.seconds - now)
    if answer.dawn.asked:
        at = f"at {when}" if when else f"in {wait}"
    else:
        at = f"at dawn ({when})" if when else f"at dawn, in {wait}"
    lines = [f"{bank}: {percent(answer.soc.figure)} {at}, {_percents(answer.soc)}"]
    if answer.load_amp_hours is not None:
        drawn = _span_of(answer.load_amp_hours, "Ah")
        lines.append(f"Now {_now(soc)}; in {wait} the loads draw {drawn}.")
    if lowest is not None:
        lines.append(_above(answer.soc, lowest))
    return Told(lines, answer.assumptions)


def _above(soc: Likely, lowest: float) -> str:
    level = f"the lowest planned, {percent(lowest)}"
    if soc.low >= lowest:
        return f"It stays above {level}."
    if soc.high < lowest:
        return f"It falls below {level}."
    return f"It may fall below {level}."


def generator_lines(bank: str, answer: GeneratorAnswer, now: float, clock: Clock) -> list[str]:
    """The answer in lines of eighty columns."""
    return _in_lines(generator_told(bank, answer, now, clock))


def generator_told(bank: str, answer: GeneratorAnswer, now: float, clock: Clock) -> Told:
    """`house: 1 h 20 min of generator to 90 %, between 55 min and 1 h 50 min`."""
    goal = percent(answer.to_soc)
    if answer.seconds is None:
        told = _no_answer(bank, f"how long to {goal}", answer.reason, answer.assumptions)
        return told._replace(caution=GENERATOR_CAUTION)
    if answer.seconds.figure <= 0.0:
        lines = [f"{bank}: no generator is needed for {goal}: it is {_now(answer.soc)} now"]
        return Told(lines, answer.assumptions)
    lines = [
        f"{bank}: {_lasts_about(answer.seconds)} of generator to {goal}, {_times(answer.seconds)}",
        f"Now {_now(answer.soc)}; {amps(answer.amps)}, of which the loads take "
        f"{amps(answer.load_amps)}.",
        _paying(answer),
    ]
    if answer.ends_soc is not None:
        lines.append(f"The source would end its charge first, at {percent(answer.ends_soc)}.")
    lines += _quiet(answer, now, clock)
    return Told(lines, answer.assumptions, GENERATOR_CAUTION)


def _paying(answer: GeneratorAnswer) -> str:
    share = percent(answer.paying_share)
    if answer.pays_seconds is None or answer.pays_soc is None:
        return f"It pays to the end: over {share} of {amps(answer.amps)} until then."
    after = _lasts_about(answer.pays_seconds)
    return (
        f"It stops paying after {after}, at {percent(answer.pays_soc)}: "
        f"then under {share} of {amps(answer.amps)}."
    )


def _quiet(answer: GeneratorAnswer, now: float, clock: Clock) -> list[str]:
    quiet = answer.quiet
    if quiet is None:
        return []
    moment = clock.at(quiet.seconds, now) or f"{span(quiet.seconds - now)} from now"
    if quiet.start_by is not None:
        by = clock.at(quiet.start_by, now) or f"within {span(quiet.start_by - now)}"
        return [f"Quiet from {moment}: start by {by} to be sure."]
    return [
        f"Quiet from {moment} may come too soon: started now, {percent(quiet.soc.figure)} by "
        f"then, {_percents(quiet.soc)}."
    ]


def load_lines(bank: str, answer: LoadAnswer) -> list[str]:
    """The answer in lines of eighty columns."""
    return _in_lines(load_told(bank, answer))


def load_told(bank: str, answer: LoadAnswer) -> Told:
    """`house: yes, 1200 W for 30 min`."""
    asked = f"{answer.watts:.0f} W for {span(answer.seconds)}"
    if answer.possible is None:
        return _no_answer(bank, asked, answer.reason, answer.assumptions)
    lines = [f"{bank}: {_SAYS[answer.possible].format(asked=asked)}"]
    if answer.lowest_volts is not None:
        lines.append(_lowest(answer.lowest_volts, answer.cut_off_volts))
    if answer.possible_seconds is not None and answer.soc is not None:
        if answer.possible_seconds.high <= 0.0:
            lines.append("It stops as soon as the load is on.")
        else:
            lines.append(_lasts(answer.possible_seconds, answer.soc))
    caution = LOAD_CAUTION.format(amps=amps(answer.cable_amps))
    return Told(lines, answer.assumptions, caution)


#: Decimals of volts as they are read.
_READ_VOLTS: Final = 2

_SAYS: Final = {
    Verdict.YES: "yes, {asked} is possible",
    Verdict.DOUBTFUL: "doubtful: {asked} may be too much",
    Verdict.NO: "no, {asked} is too much",
}


def _lowest(lowest: Likely, cut_off: float) -> str:
    # below half of the cut-off there is no voltage worth a figure: the bank gave up
    gives_up = 0.5 * cut_off
    if lowest.figure < gives_up:
        best = "" if lowest.high < gives_up else f", at best {volts(lowest.high)}"
        return f"The voltage collapses{best}; the inverter stops at {volts(cut_off)}."
    collapses = lowest.low < gives_up
    # A collapse has no figure: what is above the middle alone says how fine that one is.
    bounded = Likely(lowest.figure, lowest.figure, lowest.high) if collapses else lowest
    figure, low, high = _rounded(bounded, _READ_VOLTS)
    low = "a collapse" if collapses else low
    return (
        f"Down to {figure} V, between {low} and {high} V; the inverter stops at {volts(cut_off)}."
    )


def _lasts(seconds: Likely, soc: Likely) -> str:
    lasts = f"It can last {_lasting(seconds)}"
    if soc.high <= 0.0:
        return f"{lasts}; nothing would be left."
    left = "under 1 %" if soc.figure < 0.005 else percent(soc.figure)
    return f"{lasts}; afterwards {left} is left, {_percents(soc)}."


def _lasting(seconds: Likely) -> str:
    most = 86400.0 - 60.0  # as far ahead as anything is looked at
    if seconds.low >= most:
        return "over 24 h"
    high = "over 24 h" if seconds.high >= most else _at_most(seconds)
    figure = "over 24 h" if seconds.figure >= most else _lasts_about(seconds)
    return f"{figure} ({low_to_high(_at_least(seconds), high)})"


def sun_lines(bank: str, answer: SunAnswer, soc: Estimate, now: float, clock: Clock) -> list[str]:
    """The answer in lines of eighty columns."""
    return _in_lines(sun_told(bank, answer, soc, now, clock))


def sun_told(bank: str, answer: SunAnswer, soc: Estimate, now: float, clock: Clock) -> Told:
    """`house: yes, the coming day's sun fills the bank`."""
    if answer.fills is None or answer.soc is None or answer.amp_hours is None:
        return _no_answer(bank, "what the coming day's sun does", answer.reason, answer.assumptions)
    day = "the coming day's sun"
    says = {
        Verdict.YES: f"yes, {day} fills the bank",
        Verdict.DOUBTFUL: f"doubtful whether {day} fills the bank",
        Verdict.NO: f"no, {day} does not fill the bank",
    }[answer.fills]
    lines = [f"{bank}: {says}"]
    dusk = clock.at(answer.day[1], now) if answer.day is not None else None
    by = f"by dusk ({dusk})" if dusk else "by dusk"
    lines.append(f"{percent(answer.soc.figure)} {by}, {_percents(answer.soc)}; now {_now(soc)}.")
    if answer.full_seconds is not None:
        figure, low, high = (clock.at(moment, now) for moment in answer.full_seconds)
        if figure and low and high:
            lines.append(f"Full at about {_bare(figure)}, between {_bare(low)} and {_bare(high)}.")
    lines.append(f"The sun can give {_span_of(answer.amp_hours, 'Ah')} in that day.")
    return Told(lines, answer.assumptions)


def _bare(moment: str) -> str:
    return moment.removesuffix(" tomorrow")


def _no_answer(bank: str, what: str, reason: str, assumptions: tuple[str, ...]) -> Told:
    return Told([f"{bank}: no answer to {what}: {reason}"], assumptions)


def assumed(assumptions: tuple[str, ...]) -> str:
    """What was assumed, as one sentence."""
    return sentence("assumed: " + "; ".join(assumptions)) if assumptions else ""


def _in_lines(told: Told) -> list[str]:
    """The lines, then what was assumed, as far as there is room; the caution always."""
    most = LINES - bool(told.caution)
    wrapped: list[str] = []
    for line in told.lines:
        indent = "  " if "no answer to" in line else ""
        wrapped += textwrap.wrap(line, COLUMNS, subsequent_indent=indent)
    wrapped += textwrap.wrap(assumed(told.assumptions), COLUMNS, subsequent_indent="  ")
    if len(wrapped) > most:
        wrapped = [*wrapped[: most - 1], cut(wrapped[most - 1] + " ...", COLUMNS)]
    return [*wrapped, told.caution] if told.caution else wrapped


def _now(soc: Estimate) -> str:
    taken = give_or_take(soc)
    return f"{taken.figure}, {taken.doubt}" if taken else soc.reason or "charge not known"


def _percents(soc: Likely) -> str:
    return f"between {100 * soc.low:.0f} and {percent(soc.high)}"


def _span_of(likely: Likely, unit: str) -> str:
    """`100 Ah (70 to 140)`."""
    figure, low, high = _rounded(likely)
    return f"{figure} {unit} ({low} to {high})"


def _rounded(likely: Likely, finest: int = 1) -> tuple[str, str, str]:
    """A figure and what it lies between, no finer than half of what lies between is worth."""
    half = max(0.5 * (likely.high - likely.low), 0.1**finest)
    figure, low, high = (
        with_doubt(each, half, finest)[0] for each in (likely.figure, likely.low, likely.high)
    )
    return figure, low, high


def _times(seconds: Likely) -> str:
    return f"between {low_to_high(_at_least(seconds), _at_most(seconds), 'and')}"


def _at_least(seconds: Likely) -> str:
    """Rounded down, by a finer step where nothing would be left of it."""
    steps = [step for step in _STEPS if step <= min(_step(seconds), seconds.low)]
    return span(steps[-1] * math.floor(seconds.low / steps[-1])) if steps else "no time at all"


def _at_most(seconds: Likely) -> str:
    step = _step(seconds)
    return span(step * math.ceil(seconds.high / step))


def _lasts_about(seconds: Likely) -> str:
    """The middle, no finer than its interval is wide; never none where there is some."""
    step = _step(seconds)
    return span(max(step * round(seconds.figure / step), min(step, seconds.figure)))


#: Steps that a person rounds a time to, in seconds.
_STEPS: Final = (60.0, 300.0, 600.0, 1800.0)


def _step(seconds: Likely) -> float:
    """The widest that is a quarter of the interval, as for the waits of the live screen."""
    quarter = (seconds.high - seconds.low) / 4.0
    return max((step for step in _STEPS if step <= quarter), default=_STEPS[0])
