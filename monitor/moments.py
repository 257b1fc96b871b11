"""A moment of a recording as people write it, and the engine brought there.

`5400` is the recording's own seconds, as tables and events have them; `90m`, `2h` and `33:05:00`
count from its start; `20:40` and `2026-06-11 20:40` are by the clock on the wall, which only a
recording that knows the clock can tell; `end` is its end.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable
from datetime import datetime, timedelta, tzinfo
from typing import Final, NamedTuple

from adapters.reading import Tick
from monitor.engine.engine import Engine
from monitor.mishaps import Refusal
from monitor.recorded import Recorded
from monitor.words.days import weekday
from replay.recording import Recording

#: Inputs looked at for the wall clock where the header does not have it.
_SAMPLE: Final = 500
_UNITS: Final = {"s": 1.0, "m": 60.0, "h": 3600.0}
_FROM_START: Final = re.compile(r"(\d+):([0-5]\d):([0-5]\d(?:\.\d+)?)")
_CLOCK: Final = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")
_EXPECTED: Final = "expected seconds, 90m, HH:MM:SS from its start, HH:MM, a date and time, or end"


class Span(NamedTuple):
    """From where to where a recording goes; `wall_offset` None where it knows no wall clock."""

    start: float
    end: float
    wall_offset: float | None


def span_of(recording: Recording) -> Span:
    offset = recording.header.wall_offset
    if offset is None:
        inputs = itertools.islice(recording.inputs(), _SAMPLE)
        ticks = (value for value in inputs if isinstance(value, Tick))
        offset = next((tick.wall_offset for tick in ticks if tick.wall_offset is not None), None)
    return Span(recording.start, recording.end, offset)


def moment(text: str, span: Span, zone: tzinfo | None = None) -> float:
    """The recording's seconds that a person means; Refusal, in one line, where there are none."""
    words = text.strip()
    found = _seconds(words, span, zone)
    if not span.start <= found <= span.end:
        raise Refusal(f'--at: expected a time within {_range(span, zone)}, found "{words}"')
    return found


def _seconds(words: str, span: Span, zone: tzinfo | None) -> float:
    if words == "end":
        return span.end
    if words == "start":
        return span.start
    whole = _FROM_START.fullmatch(words)
    if whole is not None:
        hours, minutes, seconds = whole.groups()
        return span.start + 3600.0 * int(hours) + 60.0 * int(minutes) + float(seconds)
    number = _number(words)
    if number is not None:
        return number
    unit = _UNITS.get(words[-1:])
    number = _number(words[:-1])
    if unit is not None and number is not None:
        return span.start + unit * number
    return _by_the_clock(words, span, zone)


def _number(words: str) -> float | None:
    try:
        value = float(words)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _by_the_clock(words: str, span: Span, zone: tzinfo | None) -> float:
    clock = _CLOCK.fullmatch(words)
    try:
        date = None if clock is not None else datetime.fromisoformat(words)
    except ValueError:
        raise Refusal(f'--at: {_EXPECTED}; found "{words}"') from None
    if span.wall_offset is None:
        raise Refusal(
            "--at: the recording does not know the wall clock; "
            "give seconds, or HH:MM:SS from its start"
        )
    if date is not None:
        if date.tzinfo is None:
            date = date.replace(tzinfo=zone) if zone is not None else date.astimezone()
        return date.timestamp() - span.wall_offset
    start = datetime.fromtimestamp(span.start + span.wall_offset, zone)
    assert clock is not None  # the only way here without a date
    hour, minute = int(clock[1]), int(clock[2])
    first = start.replace(hour=hour, minute=minute, second=0, microsecond=0)
    if first < start:
        first += timedelta(days=1)
    return first.timestamp() - span.wall_offset


def _range(span: Span, zone: tzinfo | None) -> str:
    words = f"the recording, {span.start:g} to {span.end:g} s"
    if span.wall_offset is None:
        return words
    first, last = (
        datetime.fromtimestamp(seconds + span.wall_offset, zone)
        for seconds in (span.start, span.end)
    )
    return f"{words} ({first:%Y-%m-%d %H:%M} to {last:%Y-%m-%d %H:%M})"


def moment_words(seconds: float, span: Span, zone: tzinfo | None = None) -> str:
    """`at 16:00:00 of the recording, Thu 2026-06-11 05:00`."""
    gone = round(seconds - span.start)
    hours, rest = divmod(gone, 3600)
    words = f"at {hours:02d}:{rest // 60:02d}:{rest % 60:02d} of the recording"
    if span.wall_offset is None:
        return words
    wall = datetime.fromtimestamp(seconds + span.wall_offset, zone)
    return f"{words}, {weekday(wall)} {wall:%Y-%m-%d %H:%M}"


def engine_at(
    recorded: Recorded, seconds: float, every: Callable[[float], None] | None = None
) -> Engine:
    """The engine after everything that a recording holds up to a moment.

    `every` is called with the time inside the recording now and then, for progress.
    """
    engine = Engine(recorded.site, recorded.state)
    for count, value in enumerate(recorded.recording.inputs()):
        if value.seconds > seconds:
            break
        engine.step(value)
        if every is not None and count % 1000 == 0:
            every(value.seconds)
    return engine
