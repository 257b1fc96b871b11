"""The index of a record: one SQLite file, made of nothing but what the segments say.

It holds no truth of its own: lose it, and `ampwright capture reindex` makes the same rows again
from the headers and summaries of the segments. It is there so that months are shown without
reading months. Written seldom, in whole transactions (WAL, synchronous FULL: measured to lose
nothing in a power cut).

A segment is dated by the newest news of the wall clock in its start of the machine: within one
start the steady clock runs through, so what was recorded before the clock was set is dated by it
as well, and a clock that was set wrong and then right dates nothing wrong. Its day is that of its
middle, in the zone of the site.
"""

from __future__ import annotations

import contextlib
import datetime
import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from monitor.engine.state import Json
from replay.sealed_lines import CaptureError

INDEX_NAME: Final = "index.sqlite"
#: Changes with the tables; another version is made anew from the segments.
VERSION: Final = 1
_BUSY_SECONDS: Final = 10.0

_TABLES: Final = """
create table if not exists segments (
  number integer primary key, boot text, grade text, sealed integer, rows integer,
  first real, last real, told_offset real, zone_seconds real, wall_offset real, day text
);
create table if not exists pages (
  segment integer, bank text, page text, primary key (segment, bank)
);
create table if not exists cycles (
  segment integer, place integer, bank text, cycle text, primary key (segment, place)
);
create table if not exists events (
  segment integer, number integer, seconds real, kind text, name text, target text,
  priority integer, words text, primary key (segment, number)
);
create index if not exists segments_by_day on segments (day);
"""
_ALL: Final = ("segments", "pages", "cycles", "events")


@dataclass(frozen=True, slots=True)
class Entry:
    """One segment: what its header says of it, and its summary."""

    number: int
    boot: str
    grade: str
    sealed: bool
    header_offset: float | None
    zone_seconds: float
    summary: Json


def day_of(wall_seconds: float, zone_seconds: float) -> str | None:
    """The day of a moment of Unix time, as text; None where no calendar has it."""
    try:
        moment = datetime.datetime.fromtimestamp(wall_seconds + zone_seconds, datetime.UTC)
    except (ValueError, OverflowError, OSError):
        return None
    return moment.date().isoformat()


@contextlib.contextmanager
def opened(path: Path, *, write: bool = False) -> Iterator[sqlite3.Connection]:
    """The index, closed again at the end; CaptureError where it is damaged or not there."""
    if not write and not path.exists():
        raise CaptureError(
            f"{path}: no index there; make it with: ampwright capture reindex {path.parent}"
        )
    try:
        connection = sqlite3.connect(path, timeout=_BUSY_SECONDS)
        with contextlib.closing(connection):
            version = connection.execute("pragma user_version").fetchone()[0]
            if version not in ((0, VERSION) if write else (VERSION,)):
                raise sqlite3.DatabaseError(f"made by another version, {version}")
            if write:
                connection.execute("pragma journal_mode=wal")
                connection.execute("pragma synchronous=full")
                connection.executescript(_TABLES)
                if version != VERSION:
                    connection.execute(f"pragma user_version={VERSION}")
            yield connection
    except sqlite3.Error as error:
        raise CaptureError(
            f"{path}: cannot be used ({error}); "
            f"make it anew with: ampwright capture reindex {path.parent}"
        ) from None


def put(connection: sqlite3.Connection, entries: Iterable[Entry]) -> None:
    """Segments in place of what was known of them, all in one transaction, and dated anew."""
    with connection:
        boots = set()
        for entry in entries:
            _put(connection, entry)
            boots.add(entry.boot if entry.boot else f"#{entry.number}")
        for boot in boots:
            _date(connection, boot)


def _put(connection: sqlite3.Connection, entry: Entry) -> None:
    for table in _ALL:
        key = "number" if table == "segments" else "segment"
        connection.execute(f"delete from {table} where {key} = ?", (entry.number,))
    summary = entry.summary
    told = summary.get("offset")
    connection.execute(
        "insert into segments values (?,?,?,?,?,?,?,?,?,null,null)",
        (
            entry.number,
            entry.boot or f"#{entry.number}",
            entry.grade,
            int(entry.sealed),
            summary.get("rows", 0),
            summary.get("first"),
            summary.get("last"),
            told if told is not None else entry.header_offset,
            entry.zone_seconds,
        ),
    )
    connection.executemany(
        "insert into pages values (?,?,?)",
        [(entry.number, page["bank"], _text(page)) for page in summary.get("banks", ())],
    )
    connection.executemany(
        "insert into cycles values (?,?,?,?)",
        [
            (entry.number, place, cycle["bank"], _text(cycle))
            for place, cycle in enumerate(summary.get("cycles", ()))
        ],
    )
    names = ("number", "seconds", "kind", "name", "target", "priority", "words")
    connection.executemany(
        "insert or replace into events values (?,?,?,?,?,?,?,?)",
        [
            (entry.number, *(event.get(name) for name in names))
            for event in summary.get("events", ())
        ],
    )


def _text(value: Mapping[str, Any]) -> str:
    return json.dumps(value, sort_keys=True, separators=(",", ":"))


def _date(connection: sqlite3.Connection, boot: str) -> None:
    """Date every segment of one start of the machine by its newest news of the clock."""
    rows = connection.execute(
        "select number, first, last, told_offset, zone_seconds from segments "
        "where boot = ? order by number",
        (boot,),
    ).fetchall()
    told = [row[3] for row in rows if row[3] is not None]
    offset = told[-1] if told else None
    for number, first, last, _, zone in rows:
        day = None
        if offset is not None and first is not None and last is not None:
            day = day_of((first + last) / 2.0 + offset, zone)
        connection.execute(
            "update segments set wall_offset = ?, day = ? where number = ?", (offset, day, number)
        )


def everything(connection: sqlite3.Connection) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table, in order: what a rebuilt index must equal."""
    return {
        table: connection.execute(f"select * from {table} order by 1, 2").fetchall()
        for table in _ALL
    }
