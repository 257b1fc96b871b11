"""The record as tables: days, charge cycles, months, segments; in 80 columns, or in 40.

Wide, a row is a line; narrow, it is a few short ones that say the same.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Sequence
from typing import Final, TypeVar

from monitor.history.days import Cycle, Day, Held, Month, Range
from monitor.words.figures import span

WIDE: Final = 80

R = TypeVar("R", Day, Cycle, Month)

_DAY_HEAD: Final = (
    "                    Ah       SOC %     volts        °C      hours in    full    ",
    "day             in   out  low high  low  high  low high bulk  abs float   h  al",
)
_STAGES: Final = ("bulk", "absorption", "float")


def day_lines(days: Sequence[Day], columns: int) -> list[str]:
    """A table for each bank."""
    return _by_bank(days, _DAY_HEAD, _day_wide, _day_narrow, columns)


def _day_wide(day: Day) -> str:
    hours = [day.stage_seconds.get(stage, 0.0) / 3600.0 for stage in _STAGES]
    return (
        f"{_name(day):<11}{day.amp_hours_in:7.1f}{day.amp_hours_out:6.1f} "
        f"{_percent(day.soc.low):>4}{_percent(day.soc.high):>5}"
        f"{_number(day.volts.low, 6, 2)}{_number(day.volts.high, 6, 2)}"
        f"{_number(day.celsius.low, 5, 0)}{_number(day.celsius.high, 5, 0)}"
        f"{hours[0]:5.1f}{hours[1]:5.1f}{hours[2]:6.1f}{day.full_seconds / 3600.0:5.1f}"
        f"{day.alarms:4d}"
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


_CYCLE_HEAD: Final = (
    "                                        Ah           in /   lowest      °C",
    "full at           to                 out      in     out    SOC %   low  high",
)


def cycle_lines(cycles: Sequence[Cycle], columns: int, zone_seconds: float) -> list[str]:
    def wide(cycle: Cycle) -> str:
        until = "now, so far" if cycle.open else _moment(cycle.ended, zone_seconds)
        began = _moment(cycle.began, zone_seconds)
        return (
            f"{began:<17} {until:<16}{cycle.amp_hours_out:8.1f}{cycle.amp_hours_in:8.1f}"
            f"{_ratio(cycle):>8}{_percent(cycle.lowest_soc):>9}"
            f"{_number(cycle.celsius.low, 6, 0)}{_number(cycle.celsius.high, 6, 0)}"
        )

    def narrow(cycle: Cycle) -> list[str]:
        until = "so far" if cycle.open else f"to {_moment(cycle.ended, zone_seconds)}"
        return [
            f"{_moment(cycle.began, zone_seconds)}, {span(cycle.seconds)}",
            f"  {until}",
            f"  out {cycle.amp_hours_out:.1f}, in {cycle.amp_hours_in:.1f} Ah ({_ratio(cycle)})",
            f"  lowest {_percent(cycle.lowest_soc)} %, {_pair(cycle.celsius, 1.0, 0)} °C",
        ]

    return _by_bank(cycles, _CYCLE_HEAD, wide, narrow, columns)


_MONTH_HEAD: Final = (
    "                     Ah  lowest  held      °C       usable Ah    share    milliohms",
    "month  days cycl.   out   SOC %  full  low  high   and doubt  of label   and doubt",
)


def month_lines(found: Sequence[Month], columns: int) -> list[str]:
    return _by_bank(found, _MONTH_HEAD, _month_wide, _month_narrow, columns)


def _month_wide(month: Month) -> str:
    return (
        f"{month.month}{month.days:4d}{month.cycles:6d}{month.amp_hours_out:7.0f}"
        f"{_percent(month.lowest_soc):>7}{_percent(month.full_share):>6}"
        f"{_number(month.celsius.low, 5, 0)}{_number(month.celsius.high, 6, 0)}"
        f"{_doubtful(month.capacity, month.capacity_sd, 0):>12}"
        f"{_share(month):>9}{_doubtful(month.milliohms, month.milliohms_sd, 1):>11}"
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
    head: tuple[str, ...],
    wide: Callable[[R], str],
    narrow: Callable[[R], list[str]],
    columns: int,
) -> list[str]:
    """A table for each bank, one below the other."""
    lines: list[str] = []
    for bank in dict.fromkeys(row.bank for row in rows):
        lines += ["", bank] if lines else [bank]
        if columns >= WIDE:
            lines += [line.rstrip() for line in head]
        for row in rows:
            if row.bank == bank:
                lines += [wide(row)] if columns >= WIDE else narrow(row)
    return lines


def _name(day: Day) -> str:
    return day.day or f"undated {day.segments[0]}"


def _moment(wall: float | None, zone_seconds: float) -> str:
    if wall is None:
        return "undated"
    moment = datetime.datetime.fromtimestamp(wall + zone_seconds, datetime.UTC)
    return moment.strftime("%Y-%m-%d %H:%M")


def _percent(fraction: float | None) -> str:
    return "-" if fraction is None else f"{100.0 * fraction:.0f}"


def _number(figure: float | None, width: int, digits: int) -> str:
    return f"{'-':>{width}}" if figure is None else f"{figure:{width}.{digits}f}"


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
