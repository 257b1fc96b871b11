"""The record as tables: days, charge cycles, months, segments; in 80 columns, or in 40.

Wide, a row is a line; narrow, it is a few short ones that say the same.
"""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Callable, Iterable, Sequence
from typing import Final, NamedTuple, TypeVar

from adapters.reading import Action
from monitor.history.days import Cycle, Day, Held, Month, Range
from monitor.history.log import Entered
from monitor.words.figures import span

WIDE: Final = 80

R = TypeVar("R", Day, Cycle, Month)


class Column(NamedTuple):
    """Two lines of heading over cells of one width; the first column stands at the left."""

    group: str
    name: str
    width: int


_DAY: Final = (
    Column("", "day", 10),
    Column("Ah", "in", 7),
    Column("", "out", 7),
    Column("SOC %", "low", 6),
    Column("", "high", 5),
    Column("volts", "low", 6),
    Column("", "high", 6),
    Column("°C", "low", 4),
    Column("", "high", 5),
    Column("hours", "bulk", 6),
    Column("in", "abs.", 5),
    Column("", "flt.", 5),
    Column("full", "h", 5),
    Column("", "al", 3),
)
_STAGES: Final = ("bulk", "absorption", "float")


def day_lines(days: Sequence[Day], columns: int) -> list[str]:
    """A table for each bank."""
    return _by_bank(days, _DAY, _day_wide, _day_narrow, columns)


def _day_wide(day: Day) -> tuple[str, ...]:
    hours = [day.stage_seconds.get(stage, 0.0) / 3600.0 for stage in _STAGES]
    return (
        _name(day),
        _amp_hours(day.amp_hours_in),
        _amp_hours(day.amp_hours_out),
        _percent(day.soc.low),
        _percent(day.soc.high),
        _number(day.volts.low, 2),
        _number(day.volts.high, 2),
        _number(day.celsius.low, 0),
        _number(day.celsius.high, 0),
        *(f"{each:.1f}" for each in hours),
        f"{day.full_seconds / 3600.0:.1f}",
        f"{day.alarms}",
    )


def _day_narrow(day: Day) -> list[str]:
    hours = [
        f"{word} {day.stage_seconds[stage] / 3600.0:.1f} h"
        for stage, word in (("bulk", "bulk"), ("absorption", "abs."), ("float", "float"))
        if day.stage_seconds.get(stage, 0.0) >= 180.0
    ]
    alarms = f"; {day.alarms} alarms" if day.alarms else ""
    return [
        f"{_name(day)}: in {day.amp_hours_in:.1f}, out {day.amp_hours_out:.1f} Ah",
        f"  SOC {_pair(day.soc, 100.0, 0)} %, {_pair(day.volts, 1.0, 2)} V",
        f"  {_pair(day.celsius, 1.0, 0)} °C, full {day.full_seconds / 3600.0:.1f} h{alarms}",
        *([f"  {', '.join(hours)}"] if hours else []),
    ]


_CYCLE: Final = (
    Column("", "full at", 17),
    Column("", "to", 17),
    Column("Ah", "out", 8),
    Column("", "in", 8),
    Column("in /", "out", 7),
    Column("lowest", "SOC %", 8),
    Column("°C", "low", 6),
    Column("", "high", 6),
)


def cycle_lines(cycles: Sequence[Cycle], columns: int, zone_seconds: float) -> list[str]:
    def wide(cycle: Cycle) -> tuple[str, ...]:
        return (
            _moment(cycle.began, zone_seconds) if cycle.since_full else "record begins",
            "now, so far" if cycle.open else _moment(cycle.ended, zone_seconds),
            _amp_hours(cycle.amp_hours_out),
            _amp_hours(cycle.amp_hours_in),
            _ratio(cycle),
            _percent(cycle.lowest_soc),
            _number(cycle.celsius.low, 0),
            _number(cycle.celsius.high, 0),
        )

    def narrow(cycle: Cycle) -> list[str]:
        until = "so far" if cycle.open else f"to {_moment(cycle.ended, zone_seconds)}"
        first = "" if cycle.since_full else "record begins "
        return [
            f"{first}{_moment(cycle.began, zone_seconds)}, {span(cycle.seconds)}",
            f"  {until}",
            f"  out {cycle.amp_hours_out:.1f}, in {cycle.amp_hours_in:.1f} Ah ({_ratio(cycle)})",
            f"  lowest {_percent(cycle.lowest_soc)} %, {_pair(cycle.celsius, 1.0, 0)} °C",
        ]

    lines = _by_bank(cycles, _CYCLE, wide, narrow, columns)
    if columns >= WIDE:
        lines += [
            f"{cycle.bank}: its record begins {_moment(cycle.began, zone_seconds)}"
            for cycle in cycles
            if not cycle.since_full
        ]
    return lines


_MONTH: Final = (
    Column("", "month", 7),
    Column("", "days", 5),
    Column("", "cycles", 7),
    Column("Ah", "out", 7),
    Column("lowest", "SOC %", 7),
    Column("full", "% held", 7),
    Column("°C", "low", 5),
    Column("", "high", 5),
    Column("usable Ah", "2 sd", 11),
    Column("of", "label", 6),
    Column("milliohms", "2 sd", 12),
)


def month_lines(found: Sequence[Month], columns: int) -> list[str]:
    return _by_bank(found, _MONTH, _month_wide, _month_narrow, columns)


def _month_wide(month: Month) -> tuple[str, ...]:
    return (
        month.month,
        f"{month.days}",
        f"{month.cycles}",
        f"{month.amp_hours_out:.0f}",
        _percent(month.lowest_soc),
        _percent(month.full_share),
        _number(month.celsius.low, 0),
        _number(month.celsius.high, 0),
        _doubtful(month.capacity, month.capacity_sd, 0),
        _share(month),
        _doubtful(month.milliohms, month.milliohms_sd, 1),
    )


def _month_narrow(month: Month) -> list[str]:
    return [
        f"{month.month}: {month.days} days, {month.cycles} cycles",
        f"  out {month.amp_hours_out:.0f} Ah, lowest {_percent(month.lowest_soc)} %",
        f"  held full {_percent(month.full_share)} % of the time",
        f"  usable {_doubtful(month.capacity, month.capacity_sd, 0)} Ah ({_share(month)})",
        f"  {_doubtful(month.milliohms, month.milliohms_sd, 1)} milliohms",
    ]


_GRADES: Final = {"full": "every row", "minute": "by the minute", "ledger": "its sums"}


def segment_lines(held: Iterable[tuple[Held, int, tuple[str, ...]]], columns: int) -> list[str]:
    """Each with its bytes, and for whom it is pinned."""
    lines = []
    for one, size, whom in held:
        grade = _GRADES.get(one.grade, one.grade)
        state = "" if one.sealed else ", open"
        hours = (one.last or 0.0) / 3600.0 - (one.first or 0.0) / 3600.0
        first = f"{one.number:05d} {one.day or 'undated':<10} {hours:6.1f} h"
        rest = f"{one.rows:8d} rows {size / 1e6:7.2f} MB  {grade}{state}"
        pinned = f"pinned for {', '.join(whom)}" if whom else ""
        if columns >= WIDE:
            lines.append(f"{first} {rest}{pinned and '; ' + pinned}")
        else:
            lines += [first, f"  {rest.strip()}", *([f"  {pinned}"] if pinned else [])]
    return lines


def _by_bank(
    rows: Sequence[R],
    table: tuple[Column, ...],
    wide: Callable[[R], tuple[str, ...]],
    narrow: Callable[[R], list[str]],
    columns: int,
) -> list[str]:
    """A table for each bank, one below the other."""
    lines: list[str] = []
    for bank in dict.fromkeys(row.bank for row in rows):
        lines += ["", bank] if lines else [bank]
        if columns >= WIDE:
            lines += [_row(table, tuple(one.group for one in table))]
            lines += [_row(table, tuple(one.name for one in table))]
        for row in rows:
            if row.bank == bank:
                lines += [_row(table, wide(row))] if columns >= WIDE else narrow(row)
    return lines


def _row(table: tuple[Column, ...], cells: tuple[str, ...]) -> str:
    first, *rest = (
        f"{cell:{'<' if place == 0 else '>'}{column.width}}"
        for place, (column, cell) in enumerate(zip(table, cells, strict=True))
    )
    return "".join((first, *rest)).rstrip()


def _name(day: Day) -> str:
    return day.day or f"undated {day.segments[0]}"


def _moment(wall: float | None, zone_seconds: float) -> str:
    if wall is None:
        return "undated"
    moment = datetime.datetime.fromtimestamp(wall + zone_seconds, datetime.UTC)
    return moment.strftime("%Y-%m-%d %H:%M")


def _percent(fraction: float | None) -> str:
    return "-" if fraction is None else f"{100.0 * fraction:.0f}"


def _number(figure: float | None, digits: int) -> str:
    return "-" if figure is None else f"{figure:.{digits}f}"


def _amp_hours(figure: float) -> str:
    return f"{figure:.1f}" if figure < 1000.0 else f"{figure:.0f}"


def _pair(found: Range, factor: float, digits: int) -> str:
    if found.low is None or found.high is None:
        return "-"
    return f"{factor * found.low:.{digits}f} to {factor * found.high:.{digits}f}"


def _ratio(cycle: Cycle) -> str:
    if not cycle.amp_hours_out or cycle.open:
        return "-"
    return f"{cycle.amp_hours_in / cycle.amp_hours_out:.2f}"


def _share(month: Month) -> str:
    if month.capacity is None or not month.label:
        return "-"
    return f"{100.0 * month.capacity / month.label:.0f} %"


def _doubtful(figure: float | None, sd: float | None, digits: int) -> str:
    if figure is None or sd is None:
        return "-"
    return f"{figure:.{digits}f} ± {2.0 * sd:.{digits}f}"


def log_lines(log: Iterable[Entered], columns: int, zone_seconds: float) -> list[str]:
    """An entry a line, folded where there is no room; another bank is told as such."""
    lines: list[str] = []
    for entry in log:
        when = "time not known"
        if entry.wall is not None:
            moment = datetime.datetime.fromtimestamp(entry.wall + zone_seconds, datetime.UTC)
            when = f"{moment:%Y-%m-%d %H:%M}"
        where = entry.target or "all"
        lines += textwrap.wrap(
            f"{when}  {where}: {entry.words}", max(columns, 30), subsequent_indent="  "
        )
        if entry.action == Action.REPLACE_BANK:
            lines.append(f"  from here on {entry.bank} is bank no. {entry.life}")
    return lines
