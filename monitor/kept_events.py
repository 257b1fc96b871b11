"""Events as plain JSON and back: the end of the journal, kept from one start to the next."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from monitor.engine.snapshot import Event, EventKind, Fact, Priority

#: As many as the journal's screen shows (our choice): weeks of a quiet bank.
KEPT: Final = 300


def documents(events: Iterable[Event]) -> list[dict[str, Any]]:
    """The newest of these events, oldest first."""
    return [
        {
            "number": event.number,
            "seconds": event.seconds,
            "kind": event.kind.value,
            "name": event.name,
            "target": event.target,
            "priority": int(event.priority),
            "words": event.words,
            "evidence": [
                [fact.rule, fact.words, [list(figure) for figure in fact.figures]]
                for fact in event.evidence
            ],
        }
        for event in tuple(events)[-KEPT:]
    ]


def events_of(kept: Iterable[Any]) -> tuple[Event, ...]:
    """What `documents` gave, as events again; KeyError, TypeError or ValueError where it is not."""
    return tuple(
        Event(
            int(each["number"]),
            float(each["seconds"]),
            EventKind(each["kind"]),
            str(each["name"]),
            str(each["target"]),
            Priority(each["priority"]),
            str(each["words"]),
            tuple(
                Fact(
                    str(rule), str(words), tuple((str(name), float(value)) for name, value in pairs)
                )
                for rule, words, pairs in each["evidence"]
            ),
        )
        for each in kept
    )
