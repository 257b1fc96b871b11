"""The record by days, charge cycles and months, read from the index: sums and extremes, no more.

A day is made of its segments: ampere-hours and hours add up, lowest and highest are taken. What
the clock never dated stands apart, a row for each segment, in its place in the order.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from monitor.history.index import day_of
from monitor.history.open_part import up_to_now


class Range(NamedTuple):
    """Lowest and highest; None where nothing was measured."""

    low: float | None
    high: float | None

    def with_(self, other: Range) -> Range:
        lows = [each for each in (self.low, other.low) if each is not None]
        highs = [each for each in (self.high, other.high) if each is not None]
        return Range(min(lows, default=None), max(highs, default=None))


_NOTHING = Range(None, None)


@dataclass(slots=True)
class Day:
    """One bank on one day; `day` is None for a segment that was never dated. Fractions are 0..1;
    the last figures are as the day ended."""

    day: str | None
    bank: str
    segments: list[int] = field(default_factory=list)
    amp_hours_in: float = 0.0
    amp_hours_out: float = 0.0
    seen_seconds: float = 0.0
    full_seconds: float = 0.0
    fulls: int = 0
    alarms: int = 0
    stage_seconds: dict[str, float] = field(default_factory=dict)
    soc: Range = _NOTHING
    volts: Range = _NOTHING
    amps: Range = _NOTHING
    celsius: Range = _NOTHING
    end_soc: float | None = None
    capacity: float | None = None
    capacity_sd: float | None = None
    milliohms: float | None = None
    milliohms_sd: float | None = None
    label: float | None = None

    def add(self, segment: int, page: dict[str, Any], alarms: int) -> None:
        self.segments.append(segment)
        self.amp_hours_in += page["amp_hours_in"]
        self.amp_hours_out += page["amp_hours_out"]
        self.seen_seconds += page["seen_seconds"]
        self.full_seconds += page["full_seconds"]
        self.fulls += page["fulls"]
        self.alarms += alarms
        for stage, seconds in page["stage_seconds"].items():
            self.stage_seconds[stage] = self.stage_seconds.get(stage, 0.0) + seconds
        for name in ("soc", "volts", "amps", "celsius"):
            found = Range(page[name]["low"], page[name]["high"])
            setattr(self, name, getattr(self, name).with_(found))
        for name in ("end_soc", "capacity", "capacity_sd", "milliohms", "milliohms_sd", "label"):
            if page[name] is not None:
                setattr(self, name, page[name])


@dataclass(frozen=True, slots=True)
class Cycle:
    """From one full to the next, or to now; moments are Unix time, None where never dated.

    `since_full` false: from where the bank was first seen instead.
    """

    bank: str
    began: float | None
    ended: float | None
    seconds: float
    amp_hours_out: float
    amp_hours_in: float
    lowest_soc: float | None
    celsius: Range
    open: bool = False
    since_full: bool = True


@dataclass(frozen=True, slots=True)
class Month:
    """How a bank stands at the end of a month, and what it did in it."""

    month: str
    bank: str
    days: int
    cycles: int
    amp_hours_out: float
    lowest_soc: float | None
    full_share: float | None
    celsius: Range
    capacity: float | None
    capacity_sd: float | None
    label: float | None
    milliohms: float | None
    milliohms_sd: float | None


@dataclass(frozen=True, slots=True)
class Held:
    """One segment as the index knows it."""

    number: int
    day: str | None
    grade: str
    sealed: bool
    rows: int
    first: float | None
    last: float | None
    wall_offset: float | None


def read_days(directory: Path) -> list[Day]:
    """Every day of every bank, oldest first."""
    with up_to_now(directory) as connection:
        alarms = _alarms(connection)
        rows = connection.execute(
            "select number, day, page from segments join pages on number = segment "
            "order by number, bank"
        ).fetchall()
    days: dict[tuple[object, str], Day] = {}
    for number, day, text in rows:
        page = json.loads(text)
        key = (day or number, page["bank"])
        if key not in days:
            days[key] = Day(day, page["bank"])
        days[key].add(number, page, alarms.get(number, 0))
    return list(days.values())


def _alarms(connection: sqlite3.Connection) -> dict[int, int]:
    """How many alarms were raised in each segment."""
    return dict(
        connection.execute(
            "select segment, count(*) from events "
            "where kind = 'alarm' and words like '% -> unacknowledged%' group by segment"
        ).fetchall()
    )


def read_cycles(directory: Path) -> list[Cycle]:
    """Every charge cycle that was finished, oldest first, and behind them the open one of each
    bank."""
    with up_to_now(directory) as connection:
        closed = connection.execute(
            "select cycle, wall_offset from cycles join segments on segment = number "
            "order by number, place"
        ).fetchall()
        last = connection.execute(
            "select page, last, wall_offset from pages join segments on segment = number "
            "where number = (select max(number) from segments) order by bank"
        ).fetchall()
    found = [_cycle(json.loads(text), offset) for text, offset in closed]
    for text, seconds, offset in last:
        page = json.loads(text)
        cycle = {"bank": page["bank"], **page["cycle"], "ended": seconds}
        if cycle["began"] is not None and seconds is not None:
            found.append(_cycle(cycle, offset, still=True))
    return found


def _cycle(cycle: dict[str, Any], offset: float | None, *, still: bool = False) -> Cycle:
    began, ended = cycle["began"], cycle["ended"]
    return Cycle(
        bank=cycle["bank"],
        began=None if offset is None or began is None else began + offset,
        ended=None if offset is None else ended + offset,
        seconds=0.0 if began is None else ended - began,
        amp_hours_out=cycle["amp_hours_out"],
        amp_hours_in=cycle["amp_hours_in"],
        lowest_soc=cycle["lowest_soc"],
        celsius=Range(cycle["celsius"]["low"], cycle["celsius"]["high"]),
        open=still,
        since_full=cycle.get("since_full", True),  # older records do not say; nearly all did
    )


def months(days: Iterable[Day], cycles: Iterable[Cycle], zone_seconds: float) -> list[Month]:
    """The days that were dated, by month and bank; a cycle counts where it ended in that zone."""
    by_month: dict[tuple[str, str], list[Day]] = {}
    for day in days:
        if day.day is not None:
            by_month.setdefault((day.day[:7], day.bank), []).append(day)
    counted: dict[tuple[str, str], int] = {}
    for cycle in cycles:
        if cycle.ended is not None and not cycle.open:
            month = (day_of(cycle.ended, zone_seconds) or "")[:7]
            counted[month, cycle.bank] = counted.get((month, cycle.bank), 0) + 1
    return [
        _month(month, bank, held, counted.get((month, bank), 0))
        for (month, bank), held in by_month.items()
    ]


def _month(month: str, bank: str, held: list[Day], cycles: int) -> Month:
    celsius, soc = _NOTHING, _NOTHING
    for day in held:
        celsius, soc = celsius.with_(day.celsius), soc.with_(day.soc)
    seen = sum(day.seen_seconds for day in held)
    end = held[-1]
    return Month(
        month=month,
        bank=bank,
        days=len(held),
        cycles=cycles,
        amp_hours_out=sum(day.amp_hours_out for day in held),
        lowest_soc=soc.low,
        full_share=sum(day.full_seconds for day in held) / seen if seen else None,
        celsius=celsius,
        capacity=end.capacity,
        capacity_sd=end.capacity_sd,
        label=end.label,
        milliohms=end.milliohms,
        milliohms_sd=end.milliohms_sd,
    )


def read_segments(directory: Path) -> list[Held]:
    """Every segment that the index knows, oldest first."""
    with up_to_now(directory) as connection:
        rows = connection.execute(
            "select number, day, grade, sealed, rows, first, last, wall_offset "
            "from segments order by number"
        ).fetchall()
    return [
        Held(number, day, grade, bool(sealed), count, first, last, offset)
        for number, day, grade, sealed, count, first, last, offset in rows
    ]
