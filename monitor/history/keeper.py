"""Looking after a record: seal what is finished, thin what is old, make room when there is none.

Whatever is done, is done to a new file that then takes the old one's place, and what was done is
put into the index. The segment that is being written is never touched, nor is one that is pinned.
What a day amounted to (`Grade.LEDGER`) is never given up.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final, NamedTuple

from monitor.config_history import History
from monitor.disk_room import ENOUGH_BYTES
from monitor.engine.state import Json
from monitor.history.entries import entry_of, read_entry, reindex, worked_out
from monitor.history.index import INDEX_NAME, Entry, opened, put
from replay.reader import open_capture
from replay.seal import Grade, seal_segment, thin_segment
from replay.sealed_lines import CaptureError
from replay.segments import Segment, pins, segment_path, segments
from replay.writer import sync_directory

DAY_SECONDS: Final = 86_400.0
YEAR_SECONDS: Final = 365.25 * DAY_SECONDS
MEGABYTE: Final = 1_000_000
#: What is kept by the minute is small: it goes only where this little is left on the disk, two days
#: of one reading a second (our choice).
LAST_BYTES: Final = 25_000_000

_ENOUGH: Final = {Grade.FULL: ENOUGH_BYTES, Grade.MINUTE: LAST_BYTES}
_LOWER: Final = {Grade.FULL: Grade.MINUTE, Grade.MINUTE: Grade.LEDGER}


@dataclass(frozen=True, slots=True)
class Kept:
    """What was done: segments sealed, thinned for their age, thinned for want of room."""

    sealed: tuple[int, ...] = ()
    aged: tuple[int, ...] = ()
    for_room: tuple[int, ...] = ()


class _Held(NamedTuple):
    """A sealed segment that may be thinned, and when its last row was."""

    segment: Segment
    grade: Grade
    last: float


class Keeper:
    """Looks after one directory. `free` tells the room on its disk; `current` in the methods is
    the number of the segment that is being written."""

    def __init__(self, directory: Path, rules: History, free: Callable[[Path], int]) -> None:
        self.directory = directory
        self.rules = rules
        self._free = free

    def note(self, entry: Entry) -> None:
        """What a segment amounts to so far, into the index; made anew where it is unusable."""
        self._put([entry])

    def seal(self, number: int, summary: Json | None = None) -> None:
        """Pack a finished segment; without its summary this is worked out from the segment."""
        for segment in segments(self.directory):
            if segment.number == number and not segment.sealed:
                self._seal(segment, summary)

    def look_after(self, now: float, current: int) -> Kept:
        """All that is due at feed time `now`."""
        self._put([])
        sealed = []
        for segment in segments(self.directory):
            if not segment.sealed and segment.number < current:
                try:
                    self._seal(segment, None)
                except CaptureError:
                    continue  # cannot be read or packed: left as it is, and tried again
                sealed.append(segment.number)
        aged = self._thin_old(self._held(current), now)
        for_room = self._make_room(current)
        return Kept(tuple(sealed), tuple(aged), tuple(for_room))

    def _seal(self, segment: Segment, summary: Json | None) -> None:
        capture = open_capture(segment.path)
        found = summary if summary is not None else worked_out(capture)
        entry = entry_of(segment, capture.header, found)
        self._put([entry])
        label = self._day(segment.number) or segment.label
        target = segment_path(self.directory, segment.number, label, sealed=True)
        seal_segment(segment.path, target, found)
        segment.path.unlink(missing_ok=True)
        sync_directory(self.directory)
        self._put([dataclasses.replace(entry, sealed=True)])

    def _day(self, number: int) -> str | None:
        with opened(self.directory / INDEX_NAME, write=True) as connection:
            row = connection.execute(
                "select day from segments where number = ?", (number,)
            ).fetchone()
        return row[0] if row else None

    def _held(self, current: int) -> list[_Held]:
        """Every sealed segment that may be thinned, oldest first, as the index knows them; one that
        it does not know is read."""
        with opened(self.directory / INDEX_NAME, write=True) as connection:
            rows = connection.execute("select number, grade, last from segments").fetchall()
        known = {number: (grade, last) for number, grade, last in rows}
        held = []
        for segment in segments(self.directory):
            if not segment.sealed or segment.number == current:
                continue
            if pins(self.directory, segment.number):
                continue
            if segment.number not in known:
                try:
                    entry = read_entry(segment)[0]
                except CaptureError:
                    continue  # cannot be read: left alone, for whoever repairs it
                self._put([entry])
                known[segment.number] = (entry.grade, entry.summary.get("last"))
            grade, last = known[segment.number]
            held.append(_Held(segment, Grade(grade), last or 0.0))
        return held

    def _thin_old(self, held: Sequence[_Held], now: float) -> list[int]:
        limits = {
            Grade.FULL: self.rules.keep_days * DAY_SECONDS,
            Grade.MINUTE: self.rules.keep_years * YEAR_SECONDS,
        }
        done = []
        for each in held:
            limit = limits.get(each.grade)
            if limit is not None and now - each.last > limit:
                self._thin(each)
                done.append(each.segment.number)
        return done

    def _make_room(self, current: int) -> list[int]:
        """Thin the oldest until all fits: first those that have every row, then the others."""
        done: list[int] = []
        for grade in _LOWER:
            for each in [one for one in self._held(current) if one.grade is grade]:
                if not self._wanting(grade):
                    return done
                self._thin(each)
                done.append(each.segment.number)
        return done

    def _wanting(self, grade: Grade) -> bool:
        """Whether there is so little room that segments of this grade have to give some."""
        files = segments(self.directory)
        size = sum(segment.path.stat().st_size for segment in files)
        if size > self.rules.keep_megabytes * MEGABYTE:
            return True
        try:
            return self._free(self.directory) < _ENOUGH[grade]
        except OSError:
            return False

    def _thin(self, held: _Held) -> None:
        """One grade down. The summary is what it was; where it is lost it is worked out first."""
        entry, _ = read_entry(held.segment)
        grade = _LOWER[held.grade]
        path = held.segment.path
        thin_segment(path, path, grade, dict(entry.summary))
        self._put([dataclasses.replace(entry, grade=grade.value)])

    def _put(self, entries: Sequence[Entry]) -> None:
        path = self.directory / INDEX_NAME
        try:
            with opened(path, write=True) as connection:
                put(connection, entries)
        except CaptureError:
            reindex(self.directory)
            with opened(path, write=True) as connection:
                put(connection, entries)
