"""The fault captures, one by one: what was found, in which words, how late, and what else cried.

    python -m tests.reference.score_faults [NAME ...]

Each capture's JSON says what is wrong, from when, by when a careful watcher would know, and how
a person would say it. The condition's name is the kind's. "Words" is the share of the content words
of that sentence that our alarm uses too (words, causes, evidence and first step together), by their
first five letters. An alarm of high priority that is neither the fault's nor explained by it counts
against us.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Final
from unittest.mock import patch

from monitor.engine import conditions
from monitor.engine.engine import Engine
from monitor.engine.forecast import Forecast
from monitor.engine.journal import state_after
from monitor.engine.snapshot import AlarmState, Event, EventKind, Priority
from tests.monitor.engine.captures import TRUTH, capture

NAMES: Final = tuple(sorted(path.name[:3] for path in (TRUTH / "faults").glob("g*.csv.gz")))

#: What else the fault itself brings about, by the capture's own words.
BRINGS: Final[dict[str, dict[str, str]]] = {
    "thermal_runaway": {"bank-hot": "the bank is getting hotter"},
    "shorted_cell": {"bank-hot": "the bank warms"},
}

_IDLE_WORDS: Final = """
about above after again alarm alarms cannot comes does each from gives goes have into long
more much never only other over same some stays than that their them then there these they
this through until very what when where which while with without your
"""
_IDLE: Final = frozenset(_IDLE_WORDS.split())


@dataclass(frozen=True, slots=True)
class Score:
    """One capture. Seconds of the capture; None where the fault was not found."""

    name: str
    kind: str
    onset: float
    expect_by: float
    row: str
    found: float | None
    words: float
    others: tuple[str, ...]
    unexplained: tuple[str, ...]

    @property
    def in_time(self) -> bool:
        return self.found is not None and self.onset <= self.found <= self.expect_by


def content(text: str) -> set[str]:
    """The words that carry meaning, by their first five letters."""
    words = re.findall(r"[a-z]{4,}", text.lower())
    return {word[:5] for word in words if word not in _IDLE}


def score(name: str, last: int | None = None) -> Score:
    """Run a capture, or so many of its readings, and judge what was told."""
    about, site, readings = capture(name)
    engine = Engine(site)
    with patch.object(Forecast, "update", lambda *_: None):  # conditions do not look ahead
        events = [event for reading in readings[:last] for event in engine.step(reading)]
    return judged(name, about["fault"], events)


def judged(name: str, fault: dict[str, Any], events: Iterable[Event]) -> Score:
    kind = fault["kind"]
    row = kind.replace("_", "-")
    told = [
        event
        for event in events
        if event.kind is EventKind.ALARM and state_after(event) is AlarmState.UNACKNOWLEDGED
    ]
    first = next((event for event in told if event.name == row), None)
    others = tuple(dict.fromkeys(event.name for event in told if event.name != row))
    high = {event.name for event in told if event.priority is Priority.HIGH}
    explained = BRINGS.get(kind, {})
    wanted = content(fault["say"])
    return Score(
        name=name,
        kind=kind,
        onset=fault["onset_t_s"],
        expect_by=fault["expect_by_s"],
        row=row if first is not None else "",
        found=None if first is None else first.seconds,
        words=0.0 if first is None else len(wanted & content(_said(first))) / len(wanted),
        others=others,
        unexplained=tuple(name for name in others if name in high and name not in explained),
    )


def _said(event: Event) -> str:
    """Everything that a person reads of an alarm."""
    table = (*conditions.BANK, *conditions.SOURCE, *conditions.DEVICE)
    row = next(row for row in table if row.name == event.name)
    facts = " ".join(fact.words for fact in event.evidence)
    return " ".join((row.words, *row.causes, row.first, row.caution, facts))


def lines(scores: Iterable[Score]) -> Iterator[str]:
    yield (
        "| capture | what is wrong | found as | delay | allowed | words | other alarms "
        "| high, unexplained |"
    )
    yield "|---|---|---|---|---|---|---|---|"
    for each in scores:
        late = "" if each.in_time else " **missed**"
        delay = "-" if each.found is None else f"{(each.found - each.onset) / 3600.0:.2f} h"
        allowed = f"{(each.expect_by - each.onset) / 3600.0:.1f} h"
        others = ", ".join(each.others) or "none"
        crying = ", ".join(each.unexplained) or "none"
        yield (
            f"| {each.name} | {each.kind} | {each.row or 'nothing'} | {delay}{late} | {allowed} "
            f"| {each.words:.0%} | {others} | {crying} |"
        )


def main(names: list[str]) -> int:
    unknown = [name for name in names if name not in NAMES]
    if unknown:
        print(f"expected one of {', '.join(NAMES)}, found {unknown[0]!r}", file=sys.stderr)
        return 2
    scores = [score(name) for name in names or NAMES]
    for line in lines(scores):
        print(line)
    good = sum(each.in_time and not each.unexplained for each in scores)
    print(f"\n{good} of {len(scores)} found in time with no other high alarm unexplained")
    return 0 if good == len(scores) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
