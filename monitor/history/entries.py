"""From a segment on disk to what the index says of it.

A sealed segment carries its summary as its last line. One that is still being written, or whose
writer was killed, has none: its inputs are worked out again from the state in its header, which
gives the same, bit for bit.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

from adapters.adapter import Frame
from monitor.config import ConfigError, parse_config
from monitor.engine.engine import Engine
from monitor.engine.state import Json
from monitor.engine.whose_state import StateError
from monitor.history.book import Book
from monitor.history.index import INDEX_NAME, Entry, everything, opened, put
from replay.header import Header
from replay.reader import Capture, open_capture
from replay.seal import Grade, ending, grade_of
from replay.sealed_lines import CaptureError
from replay.segments import Segment, segments
from replay.tail import find_tail


def entry_of(segment: Segment, header: Header, summary: Json) -> Entry:
    said = header.segment or {}
    zone = said.get("zone_seconds")
    return Entry(
        number=segment.number,
        boot=str(said.get("boot") or ""),
        grade=grade_of(header).value,
        sealed=segment.sealed,
        header_offset=header.wall_offset,
        zone_seconds=float(zone) if isinstance(zone, int | float) else 0.0,
        summary=summary,
    )


def read_entry(segment: Segment) -> tuple[Entry, str]:
    """What the index should say of a segment, and a line where less is known of it than was.

    CaptureError where nothing of it can be read.
    """
    capture = open_capture(segment.path)
    found = ending(segment.path) if segment.sealed else None
    if found is not None:
        words = "" if found.intact else f"{segment.path}: lines before its summary are damaged"
        return entry_of(segment, capture.header, dict(found.summary)), words
    if grade_of(capture.header) is Grade.LEDGER:
        raise CaptureError(f"{segment.path}: its summary is lost, and it held nothing else")
    summary = worked_out(capture)
    words = "; ".join(capture.problems.words())
    if segment.sealed:
        words = words or "its summary is lost, worked out again"
    return entry_of(segment, capture.header, summary), words and f"{segment.path}: {words}"


def worked_out(capture: Capture) -> Json:
    """The summary of a segment from its own inputs alone."""
    header = capture.header
    try:
        config = parse_config(
            header.config, f"{capture.path}: its configuration", header.descriptions
        )
    except ConfigError as error:
        raise CaptureError(f"{capture.path}: cannot be worked out: {error}") from None
    state: dict[str, Any] | None = dict(header.state) if header.state is not None else None
    try:
        engine = Engine(config.site, state, looks_ahead=False)
    except StateError:
        engine = Engine(
            config.site, looks_ahead=False
        )  # another version's: what was measured is still the same
    book = Book(config.site, carry_of(header))
    rows = 0
    for value in capture.recorded():
        rows += 1
        if isinstance(value, Frame):
            continue
        book.take(value, engine.step(value), engine.glance)
    return book.summary(engine.snapshot(), rows)


def carry_of(header: Header) -> Json | None:
    carry = (header.segment or {}).get("carry")
    return carry if isinstance(carry, dict) else None


_NEW: Final = ".new"


def reindex(
    directory: Path, told: Callable[[str], None] = lambda _: None
) -> dict[str, list[tuple[Any, ...]]]:
    """Make the index anew from the segments, in place of the old one; every row of it.

    `told` gets a line for each segment that could not be taken whole.
    """
    path = directory / INDEX_NAME
    new = path.with_name(path.name + _NEW)
    _remove(new)
    with opened(new, write=True) as connection:
        put(connection, _readable(directory, told))
        connection.execute("pragma journal_mode=delete")
        rows = everything(connection)
    try:
        _remove(path)
        os.replace(new, path)
    except OSError as error:
        raise CaptureError(f"{path}: cannot be made ({error.strerror or error})") from None
    return rows


def _readable(directory: Path, told: Callable[[str], None]) -> Iterator[Entry]:
    for segment in segments(directory):
        try:
            entry, words = read_entry(segment)
        except CaptureError as error:
            told(str(error))
            continue
        if words:
            told(words)
        yield entry


def _remove(path: Path) -> None:
    """A database with what stands beside it."""
    for each in (path, path.with_name(path.name + "-wal"), path.with_name(path.name + "-shm")):
        with contextlib.suppress(FileNotFoundError):
            each.unlink()


def has_rows(path: Path) -> bool:
    """Whether a plain segment holds anything but its header."""
    try:
        return find_tail(path).last > 0
    except CaptureError:
        return False
