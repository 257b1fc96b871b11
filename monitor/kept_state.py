"""What the engine has learned, kept in a file from one start to the next.

Plain JSON, written whole beside the old one and then put in its place, so that a power cut leaves
the old or the new, never half of one. Sealed with a digest, so that what a bad disk or an editor
changed is noticed at the start and not in the middle of a step. A file that cannot be taken up
(broken, of another version, of another bank) is set aside under another name, with one line that
says so: it never keeps the display from starting, and is never thrown away. Whether a state belongs
to this bank is for the engine to say.
"""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from monitor.config import ConfigError
from monitor.engine.snapshot import Event
from monitor.engine.state import Json
from monitor.kept_events import documents, events_of
from replay.writer import sync_directory

#: Changes with the file around the engine's state; that has a version of its own.
FORMAT_VERSION: Final = 2

#: Of a record it stands beside the segments under this name.
STATE_NAME: Final = "bank.state"


class UnusableStateError(Exception):
    """A state file that cannot be taken up; why, in a few words."""


@dataclass(frozen=True, slots=True)
class KeptState:
    """The engine's state at feed time `seconds`, when the wall clock showed `wall`, and the
    journal's newest events up to then.

    `recorded` is the capture that was being written and the number of the newest row that the
    state has taken in: whatever stands behind it there is to be taken in before going on. `book`
    is the memory of the record's own book at that row."""

    engine: Json
    seconds: float
    wall: float
    events: tuple[Event, ...] = ()
    recorded: tuple[str, int] | None = None
    book: Json | None = None

    def resume_at(self, wall: float) -> float:
        """Feed time to go on from: later by what the wall clock says was missed, if it can."""
        return self.seconds + max(0.0, wall - self.wall)


def load_state(path: Path) -> KeptState | None:
    """The state kept in a file; None where there is none yet.

    UnusableStateError where it is no state, or another version's; ConfigError where the file cannot
    be read at all, for then it could not be written either.
    """
    try:
        text = path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise ConfigError((f"{path}: cannot be read: {error.strerror or error}",)) from None
    try:
        kept = json.loads(text)
        version = kept["version"]
        digest = kept.get("digest")
        events = events_of(kept.get("events", ()))
        state = KeptState(
            kept["engine"],
            float(kept["seconds"]),
            float(kept["wall"]),
            events,
            _recorded(kept.get("recorded")),
            kept.get("book"),
        )
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise UnusableStateError("expected a state file, found something else") from None
    if version != FORMAT_VERSION:
        raise UnusableStateError(f"expected state version {FORMAT_VERSION}, found {version!r}")
    if digest != _digest(state):
        raise UnusableStateError("damaged or edited: its digest is not that of what it holds")
    return state


def _recorded(found: object) -> tuple[str, int] | None:
    match found:
        case None:
            return None
        case [str(name), int(row)]:
            return name, row
    raise ValueError("recorded should be a name and a number")


def _digest(state: KeptState) -> str:
    document = [state.seconds, state.wall, state.engine]
    if state.events:  # files of before the journal was kept have none
        document.append(documents(state.events))
    if state.recorded is not None:  # nor do those that no capture goes with
        document.append([*state.recorded, state.book])
    return hashlib.sha256(json.dumps(document, sort_keys=True).encode()).hexdigest()


def set_aside(path: Path, why: str) -> str:
    """Rename a state that cannot be taken up; the one line that tells of it.

    ConfigError where even that is refused: nothing could be kept there.
    """
    aside = path.with_name(f"{path.name}.aside")
    number = 1
    while aside.exists():
        number += 1
        aside = path.with_name(f"{path.name}.aside-{number}")
    try:
        path.rename(aside)
    except OSError as error:
        words = f"{path}: {why}; cannot be set aside: {error.strerror or error}"
        raise ConfigError((f"{words}: name another file",)) from None
    return f"{path}: {why}; set aside as {aside.name}, started anew"


def save_state(path: Path, state: KeptState) -> None:
    """Put a state on disk in place of the old one; OSError where the disk refuses."""
    document = {
        "version": FORMAT_VERSION,
        "seconds": state.seconds,
        "wall": state.wall,
        "digest": _digest(state),
        "events": documents(state.events),
        "engine": state.engine,
    }
    if state.recorded is not None:
        document |= {"recorded": list(state.recorded), "book": state.book}
    beside = path.with_name(path.name + ".new")
    with beside.open("w", encoding="utf-8") as file:
        # in one piece: `json.dump` goes through the slow encoder, a tenth of a second on a board
        file.write(json.dumps(document, allow_nan=False))
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)
    sync_directory(path.absolute().parent)
