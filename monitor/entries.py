"""Entries of the log that wait on disk for whoever owns the devices.

`ampwright note` must work whether a screen, a recording or nothing at all runs. An entry is a small
file in a folder, written whole and put in its place; a live feed looks there every few seconds,
takes each in as a command, records it, and removes the file. What was entered while nothing ran
waits for the next start and says when it was meant.
"""

from __future__ import annotations

import contextlib
import json
import os
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from adapters.reading import Action, Command

FORMAT: Final = 1
TOOL: Final = "ampwright"
SUFFIX: Final = ".entry.json"
#: Later than this an entry says in its words when it was meant (our choice).
LATE_SECONDS: Final = 120.0
#: Entries looked at in one go: a folder full of somebody else's files must not hold up a feed.
MOST: Final = 100


def entries_folder() -> Path:
    """Where entries wait: below the state directory of the service manager, else of the user."""
    home = Path(os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state")
    return home / "ampwright" / "entries"


def put(
    folder: Path,
    commands: Sequence[Command],
    wall: float,
    *,
    token: Callable[[], str] | None = None,
) -> Path:
    """Leave an entry, meant for the Unix time `wall`; OSError where the folder cannot be written.

    Whole or not at all, whatever happens to the power meanwhile.
    """
    folder.mkdir(parents=True, exist_ok=True)
    name = token() if token is not None else f"{time.time_ns():020d}-{os.getpid()}"
    rows = [[each.who, str(each.action), each.target, each.note] for each in commands]
    text = json.dumps({"format": FORMAT, "wall": wall, "commands": rows}, ensure_ascii=False)
    path, beside = folder / f"{name}{SUFFIX}", folder / f".{name}.part"
    with beside.open("w", encoding="utf-8") as file:
        file.write(text + "\n")
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)
    _sync_folder(folder)
    return path


class Entries:
    """What waits in a folder, for the one feed that takes it in."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        #: Taken in already: a file that cannot be removed is not taken in twice.
        self._taken: set[str] = set()

    def take(self, wall: float) -> Iterator[tuple[Command, ...]]:
        """The entries that wait, oldest first; each file is removed once the next is asked for.

        So an entry is gone only after whoever asked has taken it in. One that cannot be read is
        put aside under another name, and its place taken by a note that says so.
        """
        try:
            names = sorted(path.name for path in self._folder.glob(f"*{SUFFIX}"))[:MOST]
        except OSError:
            return
        for path in (self._folder / name for name in names if name not in self._taken):
            self._taken.add(path.name)
            try:
                commands = _read(path, wall)
            except FileNotFoundError:
                continue
            except (OSError, ValueError, KeyError, TypeError) as error:
                words = f"{path}: not an entry of the log, set aside ({type(error).__name__})"
                yield (Command(0.0, TOOL, Action.NOTE, "", words),)
                with contextlib.suppress(OSError):
                    path.replace(path.with_suffix(".aside"))
                continue
            yield commands
            with contextlib.suppress(OSError):
                path.unlink()


def _read(path: Path, wall: float) -> tuple[Command, ...]:
    entry = json.loads(path.read_text(encoding="utf-8"))
    if entry["format"] != FORMAT:
        raise ValueError(f"format {entry['format']}")
    meant = float(entry["wall"])
    commands = tuple(
        Command(0.0, str(who), Action(action), str(target), str(note))
        for who, action, target, note in entry["commands"]
    )
    if wall - meant <= LATE_SECONDS:
        return commands
    when = datetime.fromtimestamp(meant, UTC).strftime("%Y-%m-%d %H:%M UTC")
    return tuple(replace(each, note=f"{each.note} (of {when})".strip()) for each in commands)


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
