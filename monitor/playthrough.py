"""A whole recording through the engine, as fast as it goes, into tables: no screen, no clock.

The table has one row for every reading, so that whatever judges it can be as causal as the engine
is: a row holds what could be known at that moment and nothing later.
"""

from __future__ import annotations

import json
import math
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Final, TextIO

from adapters.reading import Input, LinkState, Reading
from monitor.engine.engine import Engine
from monitor.engine.snapshot import Event, EventKind, Glance

TABLE_COLUMNS: Final = ("t_s", "stage", "soc", "soc_sd", "ttf_s", "ttf_lo_s", "ttf_hi_s")


def table_row(seconds: float, glance: Glance) -> str:
    """One row of the table, with its line end. Fractions and seconds, empty where unknown."""
    stage, soc, sd, full = glance.stage, glance.soc, glance.soc_sd, glance.to_full
    low, high = glance.to_full_low, glance.to_full_high
    return (
        f"{seconds:.10g},"
        f"{'' if stage is None else stage.value},"
        f"{'' if soc is None else format(soc, '.6f')},"
        f"{'' if sd is None else format(sd, '.6f')},"
        f"{'' if full is None else format(full, '.1f')},"
        f"{'' if low is None else format(low, '.1f')},"
        f"{'' if high is None else format(high, '.1f')}\n"
    )


def event_line(event: Event) -> str:
    """One event as a JSON object on a line of its own."""
    return (
        json.dumps(
            {
                "t_s": event.seconds,
                "kind": event.kind.value,
                "name": event.name,
                "target": event.target,
                "priority": event.priority.name.lower(),
                "words": event.words,
                "evidence": [
                    {"rule": fact.rule, "words": fact.words, "figures": dict(fact.figures)}
                    for fact in event.evidence
                ],
            },
            ensure_ascii=False,
        )
        + "\n"
    )


def paced(
    inputs: Iterable[Input],
    rate: float,
    clock: Callable[[], float] = time.monotonic,
    sleep: Callable[[float], object] = time.sleep,
) -> Iterator[Input]:
    """The same inputs, each handed out when its time has come at `rate` recorded seconds a second.

    An infinite rate hands them out as fast as they are taken.
    """
    if math.isinf(rate):
        yield from inputs
        return
    began: float | None = None
    first = 0.0
    for value in inputs:
        if began is None:
            began, first = clock(), value.seconds
        wait = (value.seconds - first) / rate - (clock() - began)
        if wait > 0:
            sleep(wait)
        yield value


@dataclass(slots=True)
class Passed:
    """What went by in one pass."""

    inputs: int = 0
    readings: int = 0
    rows: int = 0
    outages: int = 0
    first_seconds: float | None = None
    last_seconds: float = 0.0
    events: Counter[EventKind] = field(default_factory=Counter)


def play_through(
    inputs: Iterable[Input],
    engine: Engine,
    bank: str,
    *,
    table: TextIO | None = None,
    events: TextIO | None = None,
    every: Callable[[float], None] | None = None,
    on_events: Callable[[tuple[Event, ...]], None] | None = None,
) -> Passed:
    """Step the engine through everything, writing as asked.

    `every` is called with the time inside the recording every thousand inputs, for progress.
    """
    passed = Passed()
    if table is not None:
        table.write(",".join(TABLE_COLUMNS) + "\n")
    for value in inputs:
        told = engine.step(value)
        passed.inputs += 1
        if isinstance(value, Reading):
            passed.readings += 1
            if table is not None:
                table.write(table_row(value.seconds, engine.glance(bank)))
                passed.rows += 1
        elif isinstance(value, LinkState) and not value.up:
            passed.outages += 1
        if told:
            passed.events.update(event.kind for event in told)
            if events is not None:
                events.writelines(map(event_line, told))
            if on_events is not None:
                on_events(told)
        if passed.first_seconds is None:
            passed.first_seconds = value.seconds
        passed.last_seconds = max(passed.last_seconds, value.seconds)
        if every is not None and passed.inputs % 1000 == 0:
            every(passed.last_seconds)
    return passed
