"""Events as lines of a journal."""

from __future__ import annotations

from collections.abc import Iterable
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


def journal_lines(events: Iterable[Event], now: float, clock: Clock) -> list[str]:
    """A line an event, the newest first."""
    return [journal_line(event, now, clock) for event in reversed(tuple(events))]
