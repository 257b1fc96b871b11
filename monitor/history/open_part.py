"""The index with the segment that is being written as that stands on disk now.

Whoever records tells the index of the open segment every ten minutes: more would wear the card.
Whoever reads does not wait for that: what was kept ten minutes ago and the rows behind it give the
same, so the newest entry is worked out while reading, in memory, and nothing is written. What would
take long is left as the index has it.
"""

from __future__ import annotations

import contextlib
import functools
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from monitor.history.index import INDEX_NAME, Entry, opened, put
from replay.segments import Segment, segments
from replay.tail import find_tail

#: Rows that are played at most while somebody waits: some two seconds of the engine's time. Ten
#: minutes of three devices read every second are a tenth of it.
MOST_ROWS: Final = 20_000


@contextlib.contextmanager
def up_to_now(directory: Path) -> Iterator[sqlite3.Connection]:
    """The index of a record in memory, to read; CaptureError where there is none to be used."""
    held = segments(directory)
    entry = _entry(directory, held[-1]) if held and not held[-1].sealed else None
    path = directory / INDEX_NAME
    with contextlib.closing(sqlite3.connect(":memory:")) as memory:
        if entry is None or len(held) > 1 or path.exists():
            with opened(path) as connection:
                connection.backup(memory)
        else:
            with opened(Path(":memory:"), write=True) as empty:
                empty.backup(memory)
        if entry is not None:
            put(memory, [entry])
        yield memory


def _entry(directory: Path, segment: Segment) -> Entry | None:
    from monitor.kept_state import STATE_NAME

    state = directory / STATE_NAME
    try:
        sizes = segment.path.stat().st_size, state.stat().st_mtime_ns if state.exists() else 0
    except OSError:
        return None  # sealed a moment ago
    return _worked_out(segment, state, sizes)


@functools.lru_cache(maxsize=2)  # a screen asks for days, cycles and the log one after another
def _worked_out(
    segment: Segment,
    state: Path,
    sizes: tuple[int, int],  # noqa: ARG001  # another size is another answer
) -> Entry | None:
    """The entry of a segment from what was kept and the rows behind it; None where that is not
    to be had, or not quickly."""
    from monitor.config import ConfigError, parse_config
    from monitor.engine.whose_state import StateError
    from monitor.history.entries import entry_of
    from monitor.history.taking_up import take_up
    from monitor.kept_state import UnusableStateError, load_state
    from replay.reader import open_capture
    from replay.sealed_lines import CaptureError

    try:
        kept = load_state(state)
    except (UnusableStateError, ConfigError):
        kept = None
    try:
        last = find_tail(segment.path).last
        known = kept is not None and kept.recorded is not None
        mine = known and kept.recorded[0] == segment.path.name  # type: ignore[index, union-attr]
        after = kept.recorded[1] if mine else 0  # type: ignore[index, union-attr]
        if last - after > MOST_ROWS:
            return None
        header = open_capture(segment.path).header
        config = parse_config(header.config, "the recorded configuration", header.descriptions)
        taken = take_up(segment, kept, config)
    except (CaptureError, ConfigError, StateError, OSError):
        return None
    return entry_of(segment, header, taken.book.summary(taken.showing.snapshot(), last))
