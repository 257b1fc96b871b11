"""What happened, in order: events numbered without gaps."""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.engine.snapshot import AlarmState, Event, EventKind, Fact, Priority

#: Between the state before and the state after, in the words of an alarm's event.
MOVED: Final = " -> "
_STATES: Final = {str(state): state for state in AlarmState}


class Journal:
    """Collects the events of one step. `last` is the number of the newest."""

    KEPT: ClassVar[tuple[str, ...]] = ("last",)
    __slots__ = ("fresh", "last")

    def __init__(self) -> None:
        self.last = 0
        self.fresh: list[Event] = []

    def note(
        self,
        seconds: float,
        kind: EventKind,
        name: str,
        target: str,
        words: str,
        evidence: tuple[Fact, ...] = (),
        priority: Priority = Priority.NONE,
    ) -> None:
        self.last += 1
        event = Event(self.last, seconds, kind, name, target, priority, words, evidence)
        self.fresh.append(event)

    def take(self) -> tuple[Event, ...]:
        """The events since the last take."""
        events = tuple(self.fresh)
        self.fresh.clear()
        return events


def state_after(event: Event) -> AlarmState | None:
    """The state that an alarm moved to, from its event; None for any other event."""
    before, arrow, after = event.words.partition(MOVED)
    if event.kind is not EventKind.ALARM or not arrow or before not in _STATES:
        return None
    return _STATES.get(after.partition(" (")[0])
