"""What happened, in order: events numbered without gaps."""

from __future__ import annotations

from typing import ClassVar

from monitor.engine.snapshot import Event, EventKind, Fact, Priority


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
