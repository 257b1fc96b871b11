"""How good the alarms are as alarms, in the terms of EEMUA 191 and ISA-18.2.

`Tally` takes the engine's events and keeps a record for every alarm that people were told of;
`judge` works the figures out for a period. The published benchmark stands beside each figure in
`BENCHMARKS`. They were made for the operators of plants: one person aboard should be called far
less often, so that meeting them is the least that may be asked.

Windows of ten minutes follow each other from the beginning of the period; a rate read from windows
that slide would be higher at its peak. A last window that is cut short counts as one.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Final, NamedTuple

from monitor.engine.chatter import CHATTER_SECONDS, CHATTER_TIMES
from monitor.engine.journal import state_after
from monitor.engine.snapshot import AlarmState, Event, Priority

WINDOW_SECONDS: Final = 600.0
DAY_SECONDS: Final = 86400.0
#: More than so many alarms in a window are a flood (EEMUA 191, ISA-18.2; secondary).
FLOOD_ALARMS: Final = 10
#: An alarm that stands for longer is stale (EEMUA 191, ISA-18.2; secondary).
STALE_SECONDS: Final = 86400.0
#: Shares of low, medium and high priority (EEMUA 191, ISA-18.2; from memory).
GUIDELINE: Final = {Priority.LOW: 0.80, Priority.MEDIUM: 0.15, Priority.HIGH: 0.05}
#: With fewer alarms the share of the most frequent says nothing (our choice).
ENOUGH_ALARMS: Final = 100
#: The worst actors that are listed; ISA-18.2 looks at the ten most frequent (from memory).
WORST: Final = 10


class Benchmark(NamedTuple):
    """`at_most` is the published figure; `source` says whose, and how sure we are of it."""

    words: str
    at_most: float
    source: str


BENCHMARKS: Final = {
    "per_ten_minutes": Benchmark(
        "alarms in 10 minutes, on average", 1.0, "EEMUA 191: very likely acceptable (secondary)"
    ),
    "peak": Benchmark(
        "alarms in 10 minutes, at most", 10.0, "ISA-18.2, EEMUA 191: more is a flood (secondary)"
    ),
    "per_day": Benchmark(
        "alarms a day", 150.0, "ISA-18.2:2009; IEC 62682:2014 says 144 (secondary)"
    ),
    "flood_share": Benchmark(
        "share of the time in flood", 0.01, "ISA-18.2, EEMUA 191 (from memory)"
    ),
    "chattering": Benchmark("alarms that chatter", 0.0, "ISA-18.2, EEMUA 191 (from memory)"),
    "stale": Benchmark(
        "alarms that stand for over 24 h", 5.0, "ISA-18.2: fewer than 5 on any day (from memory)"
    ),
    "worst_share": Benchmark(
        "share of the ten most frequent", 0.05, "ISA-18.2: 1 %, 5 % at most (from memory)"
    ),
}

_SHOWN: Final = frozenset({AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED})


@dataclass(frozen=True, slots=True)
class Record:
    """One time that people were told of an alarm. `over` and `acknowledged` in the capture's
    seconds, None where that never was; what was set aside meanwhile counts as over."""

    key: str
    priority: Priority
    words: str
    raised: float
    over: float | None = None
    acknowledged: float | None = None


@dataclass(slots=True)
class Tally:
    """Every alarm told, from the events in order."""

    records: list[Record] = field(default_factory=list)
    _open: dict[str, int] = field(default_factory=dict)
    _words: dict[str, str] = field(default_factory=dict)

    def add(self, event: Event) -> None:
        key = f"{event.target}:{event.name}"
        if event.kind == "condition":
            if event.priority is not Priority.NONE:
                self._words[key] = event.words
            return
        state = state_after(event)
        if state is None:
            return
        place = self._open.get(key)
        if state is AlarmState.UNACKNOWLEDGED:
            self._open[key] = len(self.records)
            words = self._words.get(key, event.name)
            self.records.append(Record(key, event.priority, words, event.seconds))
        elif place is not None:
            record = self.records[place]
            acknowledged = state in (AlarmState.ACKNOWLEDGED, AlarmState.LATCHED_ACKNOWLEDGED)
            if acknowledged and record.acknowledged is None:
                record = replace(record, acknowledged=event.seconds)
            if state not in _SHOWN and record.over is None:
                record = replace(record, over=event.seconds)
            self.records[place] = record


@dataclass(frozen=True, slots=True)
class Actor:
    """One alarm and how often it was told; `share` of all that were told."""

    key: str
    priority: Priority
    times: int
    share: float
    chatters: bool


@dataclass(frozen=True, slots=True)
class Quality:
    """The figures of a period. `mix` are shares by priority, None where there was no alarm."""

    start: float
    end: float
    alarms: int
    per_ten_minutes: float
    peak: int
    per_day: float
    flood_share: float
    chattering: tuple[str, ...]
    stale: tuple[str, ...]
    mix: dict[Priority, float] | None
    worst: tuple[Actor, ...]

    @property
    def worst_share(self) -> float:
        return sum(actor.share for actor in self.worst)

    def above(self, name: str) -> bool:
        """True where the figure is worse than its benchmark, and there is enough to tell."""
        if name == "worst_share" and self.alarms < ENOUGH_ALARMS:
            return False
        return self.figure(name) > BENCHMARKS[name].at_most

    def figure(self, name: str) -> float:
        """The figure that a benchmark of this name is about."""
        value = getattr(self, name)
        return float(len(value)) if isinstance(value, tuple) else float(value)


def judge(records: Iterable[Record], start: float, end: float) -> Quality:
    """The figures from `start` to `end`: what was raised in it, and what stood in it."""
    every = list(records)
    told = [record for record in every if start <= record.raised < end]
    windows = max(1, math.ceil((end - start) / WINDOW_SECONDS))
    counts = Counter(int((record.raised - start) // WINDOW_SECONDS) for record in told)
    chattering = _chattering(told)
    by_key = Counter(record.key for record in told)
    priorities = {record.key: record.priority for record in told}
    count = len(told)
    spans = max(end - start, 1.0)
    return Quality(
        start=start,
        end=end,
        alarms=count,
        per_ten_minutes=count * WINDOW_SECONDS / spans,
        peak=max(counts.values(), default=0),
        per_day=count * DAY_SECONDS / spans,
        flood_share=sum(each > FLOOD_ALARMS for each in counts.values()) / windows,
        chattering=tuple(sorted(chattering)),
        stale=tuple(sorted({record.key for record in every if _stale(record, start, end)})),
        mix=_mix(told),
        worst=tuple(
            Actor(key, priorities[key], times, times / count, key in chattering)
            for key, times in sorted(by_key.items(), key=lambda item: (-item[1], item[0]))[:WORST]
        ),
    )


def _stale(record: Record, start: float, end: float) -> bool:
    """Did it stand for over a day, at any time within the period?"""
    over = end if record.over is None else min(record.over, end)
    return over > start and record.raised < end and over - record.raised > STALE_SECONDS


def _chattering(told: list[Record]) -> set[str]:
    times: dict[str, list[float]] = {}
    for record in told:
        times.setdefault(record.key, []).append(record.raised)
    last = CHATTER_TIMES - 1
    return {
        key
        for key, raised in times.items()
        if any(
            later - earlier < CHATTER_SECONDS
            for earlier, later in zip(raised, raised[last:], strict=False)
        )
    }


def _mix(told: list[Record]) -> dict[Priority, float] | None:
    if not told:
        return None
    counts = Counter(record.priority for record in told)
    return {priority: counts[priority] / len(told) for priority in GUIDELINE}
