"""What a person says to the procedure, as `Command`s: recorded like every other input.

Target `commission/CHECK` or `commission/CHECK@TARGET`; the note begins with a word:

    begin                      hands begin this check
    enter NAME = FIGURE        a meter reading or an answer
    done                       the hands are finished
    skip WHY                   not done, and why
    note WORDS                 a note beside the outcome
    stop                       leave it for now, nothing said

The same commands come back as events of the feed, live or played, so that a recording gives the
same outcomes again.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from adapters.reading import Action, Command
from monitor.engine.snapshot import Event, EventKind

PREFIX: Final = "commission/"
WORDS: Final = ("begin", "enter", "done", "skip", "note", "stop")
LONGEST: Final = 300


class Said(NamedTuple):
    seconds: float
    who: str
    key: str
    word: str
    rest: str = ""


def command(who: str, key: str, word: str, rest: str = "") -> Command:
    """Stamped later, by the feed that takes it in."""
    action = Action.METER_READING if word == "enter" else Action.NOTE
    note = " ".join(f"{word} {rest}".split())[:LONGEST]
    return Command(0.0, " ".join(who.replace(":", " ").split()), action, PREFIX + key, note)


def said_in(event: Event) -> Said | None:
    """What was said to the procedure by an event of the journal; None for all others."""
    if event.kind is not EventKind.COMMAND or not event.target.startswith(PREFIX):
        return None
    who, _, note = event.words.partition(": ")
    word, _, rest = note.partition(" ")
    if word not in WORDS:
        return None
    return Said(event.seconds, who, event.target.removeprefix(PREFIX), word, rest.strip())


def entry_of(rest: str) -> tuple[str, str]:
    """Name and text of an entry."""
    name, _, text = rest.partition("=")
    return name.strip(), text.strip()
