"""The large trend as rows of text: current, voltage, charge, temperature, stages, alarms, hours.

Built of the same strips as the trend of the live screen; here every chart gets its rows, the
set-points are marked at their voltage, and alarms under the column in which they were raised.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from monitor.dashboard.widgets.blocks import Signs, standing
from monitor.dashboard.widgets.scales import Range
from monitor.dashboard.widgets.trend_rows import (
    GUTTER,
    Row,
    amps_rows,
    band,
    hours,
    soc_rows,
    standing_rows,
    volts_rows,
)
from monitor.engine.snapshot import Stage
from monitor.trend import Trend
from monitor.words.figures import Clock, degree_unit, degrees
from monitor.words.fitting import first_fitting
from monitor.words.trend import ALARMS, STAGE, set_point_mark

#: A chart of one row says little: fewer charts then, the most wanted first.
_LEAST_ROWS: Final = 2
#: How the rows are shared out, in the order in which charts are given up from the end.
_SHARES: Final = (("amps", 4), ("volts", 4), ("soc", 2), ("celsius", 2))


#: Under the column in which an alarm was raised.
_RAISED: Final = "!"


class Marks(NamedTuple):
    """What is drawn beside the measurements: set-points by stage, and alarms in their columns."""

    set_points: tuple[tuple[Stage, float], ...]
    alarms: tuple[float, ...]


def shares(height: int) -> dict[str, int]:
    """Rows of each chart; the last ones get none where there is no room for all."""
    wanted = list(_SHARES)
    while len(wanted) > 1 and height < _LEAST_ROWS * len(wanted):
        wanted.pop()
    whole = sum(share for _, share in wanted)
    if height < _LEAST_ROWS:
        # One row cannot show both directions of a current; charge needs no more.
        return {"amps": 0, "soc": height}
    given = {name: max(height * share // whole, 1) for name, share in wanted}
    given["amps"] += max(height - sum(given.values()), 0)
    return given


def sheet_rows(
    trend: Trend, height: int, marks: Marks, signs: Signs, clock: Clock, *, fahrenheit: bool
) -> list[Row]:
    """All rows, top first: charts, stages, alarms, hours."""
    columns = trend.columns
    alarms = alarm_row(trend, marks.alarms)
    rooms = shares(max(height - 2 - bool(alarms.strip()), 1))
    drawn = amps_rows(columns, rooms["amps"], signs)
    spare = rooms["amps"] - len(drawn)
    if "volts" in rooms:
        drawn += _with_set_points(
            volts_rows(columns, rooms["volts"] + spare, signs), columns_volts(trend), marks
        )
    if "soc" in rooms:
        drawn += soc_rows(columns, rooms["soc"], signs)
    if "celsius" in rooms:
        drawn += _celsius(trend, rooms["celsius"], signs, fahrenheit=fahrenheit)
    drawn.append(Row(STAGE, band([c.stage for c in columns], signs), words=True))
    if alarms.strip():
        drawn.append(Row(ALARMS if len(ALARMS) < GUTTER else _RAISED, alarms, words=True))
    drawn.append(Row("", hours(trend, len(columns), clock, signs), words=True))
    return drawn


def columns_volts(trend: Trend) -> list[float]:
    return [column.volts for column in trend.columns if column.volts is not None]


def _with_set_points(rows: list[Row], figures: Sequence[float], marks: Marks) -> list[Row]:
    """Set-points beside the scale, at the row where that voltage lies."""
    from monitor.dashboard.widgets.scales import volts_range

    scale = volts_range(figures)
    if scale.high <= scale.low or len(rows) < _LEAST_ROWS + 1:
        return rows
    made = list(rows)
    for stage, volts in marks.set_points:
        level = scale.level(volts)
        if level is None or not 0.0 <= level <= 1.0:
            continue
        place = min(int((1.0 - level) * len(rows)), len(rows) - 1)
        # The scale's own ends stay: without them a set-point says nothing.
        if 0 < place < len(rows) - 1:
            made[place] = made[place]._replace(
                scale=first_fitting(GUTTER - 1, *set_point_mark(stage, volts))
            )
    return made


def _celsius(trend: Trend, rows: int, signs: Signs, *, fahrenheit: bool) -> list[Row]:
    figures = [None if c.celsius is None else degrees(c.celsius, fahrenheit) for c in trend.columns]
    known = [figure for figure in figures if figure is not None]
    unit = degree_unit(fahrenheit)
    if not known:
        return [
            Row(unit if not n else "", text)
            for n, text in enumerate(standing(figures, rows, signs))
        ]
    low, high = 5.0 * (min(known) // 5.0), 5.0 * (max(known) // 5.0 + 1.0)
    return standing_rows(figures, Range(low, high), rows, unit, signs)


def alarm_row(trend: Trend, raised: Sequence[float]) -> str:
    """A mark under each column in which an alarm was raised."""
    width = len(trend.columns)
    signs = [" "] * width
    span = trend.end - trend.start
    for seconds in raised:
        if span > 0 and trend.start <= seconds < trend.end:
            signs[int((seconds - trend.start) / span * width)] = _RAISED
    return "".join(signs)
