"""Events as lines of a journal."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from typing import Final

from monitor.engine.journal import MOVED
from monitor.engine.snapshot import Event, EventKind, Priority
from monitor.words.conditions import condition_name
from monitor.words.figures import Clock
from monitor.words.sentences import PRIORITY_MARK

HEADING: Final = "What happened, newest first"
NOTHING_YET: Final = "Nothing yet."
ENTRY_ASKED: Final = "Into the log, with Enter:"
_ENTRY_EXAMPLE: Final = "water 0.8L, gravity 1.265 1.26 at {degrees}"
NO_BANK: Final = "No bank is shown yet."


def entry_example(fahrenheit: bool) -> str:
    return _ENTRY_EXAMPLE.format(degrees="64F" if fahrenheit else "18C")


_KIND: Final[dict[EventKind, str]] = {
    EventKind.STAGE: "stage",
    EventKind.CONDITION: "seen",
    EventKind.ALARM: "alarm",
    EventKind.LINK: "link",
    EventKind.CLOCK: "clock",
    EventKind.COMMAND: "done",
    EventKind.LEARNED: "learned",
}


def journal_line(event: Event, now: float, clock: Clock) -> str:
    """`04:12 alarm !!! house: Bank too hot to charge: normal to unacknowledged`."""
    moment = clock.at(event.seconds, now) or f"{event.seconds:.0f} s"
    return f"{moment} {_told(event, condition_name(event.name))}"


def event_words(event: Event) -> str:
    """The same for a log, which has its own time and is searched: `house: bank-hot: ...`."""
    return _told(event, event.name)


def _told(event: Event, condition: str) -> str:
    mark = PRIORITY_MARK[event.priority] if event.priority is not Priority.NONE else ""
    lead = " ".join(part for part in (_KIND[event.kind], mark) if part)
    words = event.words.replace(MOVED, " to ")
    match event.kind:
        case EventKind.ALARM:
            return f"{lead} {event.target}: {condition}: {words}"
        case EventKind.COMMAND:
            return f"{lead} {event.name} {event.target}, {words}".replace("  ", " ")
        case _:
            return f"{lead} {event.target}: {words}"


#: So many changes between the same two stages, with nothing else between them, are told in one
#: line (our choice: two are an ordinary there and back).
_IN_TURN: Final = 3


def journal_lines(events: Iterable[Event], now: float, clock: Clock) -> list[str]:
    """A line an event, the newest first; changes to and fro between two stages in one."""
    lines: list[str] = []
    for _, run in itertools.groupby(reversed(tuple(events)), key=_between):
        changes = list(run)
        if changes[0].kind is EventKind.STAGE and len(changes) >= _IN_TURN:
            lines.append(_in_turn(changes, now, clock))
        else:
            lines += [journal_line(event, now, clock) for event in changes]
    return lines


def _between(event: Event) -> tuple[object, ...]:
    """The same for changes between the same two stages of one bank or source, and for nothing
    else."""
    if event.kind is not EventKind.STAGE:
        return (event.number,)
    return (event.target, *sorted(event.words.split(MOVED)))


def _in_turn(changes: Sequence[Event], now: float, clock: Clock) -> str:
    """`08:32 stage house: discharge to bulk; 8 changes to and fro since 07:48`."""
    oldest = changes[-1].seconds
    since = clock.at(oldest, now) or f"{oldest:.0f} s"
    newest = journal_line(changes[0], now, clock)
    return f"{newest}; {len(changes)} changes to and fro since {since}"
