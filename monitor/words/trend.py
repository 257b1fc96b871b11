"""What the trend says in words: its window, the column under the cursor, what was raised there."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from monitor.engine.journal import state_after
from monitor.engine.snapshot import AlarmState, Event, Stage
from monitor.trend import Column, Trend
from monitor.words.conditions import condition_name
from monitor.words.figures import Clock, ago, percent, signed_amps, span, temperature, volts
from monitor.words.fitting import wrapped
from monitor.words.sentences import PRIORITY_MARK, STAGE_WORD

HEADING: Final = "Trend"
STAGE: Final = "stage"
ALARMS: Final = "alarms"
VOLTS: Final = "volts"
NO_DATA: Final = "no data"
NOTHING: Final = "no reading here"
#: A stage where a stretch of it has no room for its word, and a set-point beside the scale; the
#: help says so. Its first letter, but for the last: float has that one.
LETTER: Final = {
    Stage.REST: "r",
    Stage.DISCHARGE: "d",
    Stage.BULK: "b",
    Stage.ABSORPTION: "a",
    Stage.FLOAT: "f",
    Stage.EQUALIZE: "e",
    Stage.FIXED: "x",
}


def stage_letters() -> str:
    """Which letter is which stage."""
    letters = ", ".join(f"{letter} {STAGE_WORD[stage]}" for stage, letter in LETTER.items())
    return f"Where there is no room for the word, and at set-points: {letters}."


def set_point_mark(stage: Stage, volts: float) -> tuple[str, str]:
    """`a 28.8 V`, beside the scale of the voltage; the figure alone where that is too wide."""
    return f"{LETTER[stage]} {volts:.1f} V", f"{volts:.1f} V"


def hours_before(seconds: float) -> str:
    """`-2 h`, under a chart while the wall clock is unknown."""
    return f"-{seconds / 3600:g} h"


def window_words(trend: Trend, now: float, clock: Clock, *, gone: bool = False) -> str:
    """`Trend, 6 h, until 14:32`; so too where nobody tells any more what came after `now`."""
    length = span(trend.end - trend.start)
    if trend.end >= now and not gone:
        return f"{HEADING}, {length}"
    end = clock.at(min(trend.end, now), now)
    return f"{HEADING}, {length}, until {end or ago(now - trend.end)}"


def column_words(
    column: Column, now: float, clock: Clock, *, fahrenheit: bool, brief: bool = False
) -> str:
    """`Tue 13:20: 28.71 V, +18 A, 87 %, 18 °C, absorption`."""
    moment = clock.at(column.seconds, now) or ago(max(0.0, now - column.seconds))
    if column.volts is None and column.amps is None:
        return f"{moment}: {NOTHING}"
    flow = signed_amps(column.amps) if brief else _flow(column)
    parts = [volts(column.volts), flow, percent(column.soc)]
    if column.celsius is not None:
        parts.append(temperature(column.celsius, fahrenheit))
    if column.stage is not None:
        parts.append(STAGE_WORD[column.stage])
    return f"{moment}: {', '.join(parts)}"


def _flow(column: Column) -> str:
    """The mean; with the extremes where these lie apart by more than a tenth of them and an amp
    (what a load that came and went does; our choice)."""
    low, high = column.amps_low, column.amps_high
    text = signed_amps(column.amps)
    if low is None or high is None or high - low <= max(1.0, 0.1 * max(abs(low), abs(high))):
        return text
    return f"{text} ({signed_amps(low)} to {signed_amps(high)})"


def raised_words(column: Column, width: float, events: Iterable[Event], room: int) -> list[str]:
    """Alarms raised in the column's time, all where they fit into a row of `room`; else the worst
    whole, and how many more."""
    here = [event for event in events if column.seconds <= event.seconds < column.seconds + width]
    if not here:
        return []
    whole = "; ".join(_raised(event) for event in here)
    if len(whole) <= room:
        return [whole]
    worst, more = max(here, key=lambda event: event.priority), len(here) - 1
    count = f" +{more}" if more else ""
    name = f"{PRIORITY_MARK[worst.priority]} {condition_name(worst.name)}"
    for told in (f"{_raised(worst)}{count}", f"{name}{count}"):
        if len(told) <= room:
            return [told]
    return wrapped(f"{name}{count}", room, "    ")


def _raised(event: Event) -> str:
    """`!!! house: Bank too hot to charge`."""
    return f"{PRIORITY_MARK[event.priority]} {event.target}: {condition_name(event.name)}"


def raised(events: Iterable[Event]) -> list[Event]:
    """Of what happened, the alarms that were raised: moved to a state that waits to be seen."""
    return [event for event in events if state_after(event) is AlarmState.UNACKNOWLEDGED]
