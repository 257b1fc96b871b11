"""The trend as rows of text: current, voltage, charge, the stages below them, and the hours.

A pure function of the columns and the room there is; the widget only paints the rows.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Final, NamedTuple

from monitor.dashboard.widgets.blocks import Signs, bar, hanging, hangs_in_reverse, standing
from monitor.dashboard.widgets.scales import Range, flow, time_step, volts_range
from monitor.engine.snapshot import Stage
from monitor.trend import Column, Trend
from monitor.words.days import weekday
from monitor.words.figures import Clock
from monitor.words.sentences import STAGE_WORD
from monitor.words.trend import LETTER, NO_DATA, STAGE, VOLTS, hours_before

#: Columns on the left for the scale.
GUTTER: Final = 9
_MARK_WIDTH: Final = 12
#: No finer times are marked, seconds.
_SHORTEST: Final = 300.0


class Row(NamedTuple):
    """One row: the scale at its left, the drawing, whether it is shown in reverse, or is words."""

    scale: str
    text: str
    reverse: bool = False
    words: bool = False


class Room(NamedTuple):
    """How many rows each chart gets, and the gap between two."""

    amps: int
    volts: int
    soc: int
    gap: int
    band: int
    hours: int


def room(height: int) -> Room:
    """Share out `height` rows: the stages first, then the hours, then current, volts, charge."""
    band, hours = min(height, 1), int(height >= 3)
    rest = max(height - band - hours, 0)
    gap = int(rest >= 10)
    rest -= 2 * gap
    soc = rest // 4 if rest >= 7 else 0
    volts = (rest - soc) * 2 // 5 if rest >= 3 else 0
    amps = rest - soc - volts
    if amps == 1:
        # One row cannot show both directions; charge needs no more.
        amps, soc = 0, soc + 1
    return Room(amps, volts, soc, gap, band, hours)


def _scaled(rows: Sequence[str], labels: dict[int, str], reverse: bool = False) -> list[Row]:
    return [Row(labels.get(index, ""), text, reverse) for index, text in enumerate(rows)]


def amps_rows(columns: Sequence[Column], rows: int, signs: Signs) -> list[Row]:
    """Into the bank stands on the zero line, out of it hangs; extremes, so no spike is lost."""
    if not rows:
        return []
    tops = [c.amps_high if c.amps_high is not None else c.amps for c in columns]
    bottoms = [c.amps_low if c.amps_low is not None else c.amps for c in columns]
    highest = max((a for a in tops if a is not None), default=0.0)
    lowest = min((a for a in bottoms if a is not None), default=0.0)
    scale = flow(highest, lowest, rows)
    top, bottom = scale.unit * scale.rows_in, scale.unit * scale.rows_out
    up = standing([None if a is None else max(a, 0) / top for a in tops], scale.rows_in, signs)
    labels = {scale.rows_in - 1: "0 A", 0: f"+{top:g} A"}
    drawn = _scaled(up, labels)
    if scale.rows_out:
        levels = [None if a is None else max(-a, 0) / bottom for a in bottoms]
        down = hanging(levels, scale.rows_out, signs)
        drawn += _scaled(down, {scale.rows_out - 1: f"-{bottom:g} A"}, hangs_in_reverse(signs))
    return drawn


def standing_rows(
    figures: Sequence[float | None], scale: Range, rows: int, unit: str, signs: Signs
) -> list[Row]:
    if not rows:
        return []
    text = standing([scale.level(figure) for figure in figures], rows, signs)
    if rows == 1:
        both, top = f"{scale.low:g}-{scale.high:g} {unit}", f"{scale.high:g} {unit}"
        return _scaled(text, {0: both if len(both) < GUTTER else top})
    labels = {rows - 1: f"{scale.low:g} {unit}", 0: f"{scale.high:g} {unit}"}
    return _scaled(text, labels)


def volts_rows(columns: Sequence[Column], rows: int, signs: Signs) -> list[Row]:
    figures = [column.volts for column in columns]
    scale = volts_range([volts for volts in figures if volts is not None])
    if scale.high <= scale.low:
        return _scaled(standing(figures, rows, signs), {0: VOLTS}) if rows else []
    return standing_rows(figures, scale, rows, "V", signs)


def soc_rows(columns: Sequence[Column], rows: int, signs: Signs) -> list[Row]:
    percents = [None if c.soc is None else 100 * c.soc for c in columns]
    return standing_rows(percents, Range(0.0, 100.0), rows, "%", signs)


def band(stages: Sequence[Stage | None], signs: Signs) -> str:
    """The stages along the columns: the word, or its letter where there is no room for it."""
    parts = []
    for stage, run in itertools.groupby(stages):
        width = len(list(run))
        whole = NO_DATA if stage is None else STAGE_WORD[stage]
        words = (whole, "" if stage is None else LETTER[stage], "")
        word = next(word for word in words if len(word) < max(width, 1))
        parts.append((bar(signs) + word).ljust(width)[:width])
    return "".join(parts)


def hours(trend: Trend, width: int, clock: Clock, signs: Signs) -> str:
    """Clock times under the columns, or hours before now while the wall clock is unknown."""
    span = trend.end - trend.start
    if span <= 0 or not width:
        return ""
    step = time_step(span, width // _MARK_WIDTH)
    marks = _marks(trend, width, step, clock, signs)
    while not marks.strip() and step / 2 >= _SHORTEST:
        # The one round time in the window lies too far right for its words.
        step /= 2
        marks = _marks(trend, width, step, clock, signs)
    return marks


def _marks(trend: Trend, width: int, step: float, clock: Clock, signs: Signs) -> str:
    span = trend.end - trend.start
    signs_at = [" "] * width
    shift = _local_shift(trend.end, clock)
    first = -((trend.start + shift) // -step) * step - shift
    moment = first
    while moment < trend.end:
        column = int((moment - trend.start) / span * width)
        text = bar(signs) + _mark(moment, trend.end, step, clock)
        if column + len(text) <= width:
            signs_at[column : column + len(text)] = text
        moment += step
    return "".join(signs_at)


def _local_shift(seconds: float, clock: Clock) -> float:
    """What to add to monotonic seconds so that whole steps fall on round local times."""
    local = clock.time(seconds)
    if local is None:
        return -seconds
    midnight = local.hour * 3600 + local.minute * 60 + local.second + local.microsecond * 1e-6
    return midnight - seconds


def _mark(moment: float, end: float, step: float, clock: Clock) -> str:
    local = clock.time(moment)
    if local is None:
        return hours_before(end - moment)
    return weekday(local) if step >= 86400 else clock.hour(local)


def trend_rows(trend: Trend, height: int, signs: Signs, clock: Clock) -> list[Row]:
    """All rows of the trend, top first."""
    shares = room(height)
    columns = trend.columns
    amps = amps_rows(columns, shares.amps, signs)
    # A round scale of current may leave rows over; voltage has the use of them.
    charts = [
        amps,
        volts_rows(columns, shares.volts + (shares.amps - len(amps)) * (shares.volts > 0), signs),
        soc_rows(columns, shares.soc, signs),
    ]
    blank = [Row("", "")] * shares.gap
    rows = [
        row for index, chart in enumerate(charts) for row in ([*blank, *chart] if index else chart)
    ]
    if shares.band:
        rows.append(Row(STAGE, band([c.stage for c in columns], signs), words=True))
    if shares.hours:
        rows.append(Row("", hours(trend, len(columns), clock, signs), words=True))
    return rows
