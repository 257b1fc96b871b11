"""The record as it grows: a segment for each day, one after the other, without a gap between.

Takes the place of a single capture's writer. At the first input of a new day the segment is closed
and another begun, whose header holds the state that the engine had just then, so that each day
plays alone, bit for bit. What is finished is packed beside acquisition. A disk that refuses stops
nothing: the day goes on in the old segment until there is room for another, and where not even
the first can be begun that is tried again and again while everything else goes on.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from adapters.adapter import Frame
from adapters.reading import Input
from monitor.engine.snapshot import Event
from monitor.engine.state import Json
from monitor.history.book import Book
from monitor.history.entries import entry_of
from monitor.history.index import day_of
from monitor.history.keeper import Keeper, Kept
from monitor.history.lock import Lock
from monitor.history.worker import Worker
from monitor.showing import Showing
from replay.capture import COMMIT_SECONDS, CaptureError, CaptureWriter, Closing, Header
from replay.rows import SEGMENT_VERSION
from replay.segments import UNDATED, Segment, segment_path
from replay.tail import Tail

#: A segment without a date is ended after so long; one with a date at midnight.
LONGEST_SECONDS: Final = 86_400.0
#: Between two tries to begin a segment on a disk that refused.
_AGAIN_SECONDS: Final = 60.0
#: How often what is old, or too much, is looked for.
LOOK_AFTER_SECONDS: Final = 3600.0


@dataclass(frozen=True, slots=True)
class Setting:
    """What every segment's header says alike. `shift` turns this start's steady clock into feed
    time."""

    directory: Path
    header: Header
    boot: str
    shift: float
    zone_seconds: float


class HistoryWriter:
    """Writes inputs and frames into the record of a directory, once `begin` or `go_on` was called;
    what comes before one of them succeeded is lost, and `trouble` says why.

    `offset` tells the wall clock's offset as it is believed now, None where it is not.
    """

    def __init__(
        self,
        setting: Setting,
        showing: Showing,
        keeper: Keeper,
        worker: Worker,
        offset: Callable[[], float | None],
        lock: Lock,
    ) -> None:
        self._lock = lock
        self._setting = setting
        self._showing = showing
        self._keeper = keeper
        self._worker = worker
        self._offset = offset
        self.book: Book
        self.number = 0
        self._header = setting.header
        self._writer: CaptureWriter | None = None
        self._refused: str | None = None
        self._lost = 0
        self._written = 0
        self._roll_again = -math.inf
        self._looked = -math.inf
        #: Told when segments were thinned because there was no room; from the worker's thread.
        self.tell_thinned: Callable[[Kept], None] = lambda _: None

    def begin(self, number: int, book: Book, seconds: float) -> None:
        """Begin a segment at feed time `seconds`; CaptureError where that is refused."""
        header = self._new_header(number, book)
        offset = self._offset()
        label = UNDATED
        if offset is not None:
            label = day_of(seconds + offset, self._setting.zone_seconds) or UNDATED
        path = segment_path(self._setting.directory, number, label)
        self._writer = CaptureWriter(path, header)
        self._refused = None
        self._header, self.number, self.book = header, number, book

    def go_on(self, segment: Segment, header: Header, tail: Tail, book: Book) -> None:
        """Go on with a segment at its end."""
        self._writer = CaptureWriter.go_on_with(segment.path, tail)
        self._header, self.number, self.book = header, segment.number, book

    def wait(self, number: int, book: Book, seconds: float, why: str) -> None:
        """There is no room for a segment now: try again in a minute, and so on."""
        self.number, self.book, self._refused = number, book, why
        self._roll_again = seconds + _AGAIN_SECONDS

    # As a writer of a single capture.

    @property
    def directory(self) -> Path:
        return self._setting.directory

    @property
    def trouble(self) -> str | None:
        return self._refused if self._writer is None else self._writer.trouble

    @property
    def waiting(self) -> int:
        return 0 if self._writer is None else self._writer.waiting

    @property
    def commit_seconds(self) -> float:
        return COMMIT_SECONDS if self._writer is None else self._writer.commit_seconds

    @commit_seconds.setter
    def commit_seconds(self, seconds: float) -> None:
        if self._writer is not None:
            self._writer.commit_seconds = seconds

    def append(self, value: Input) -> None:
        if self._writer is None:
            self._try_again(value.seconds)
        elif self._over(value.seconds):
            self._roll(value.seconds)
        if self._writer is None:
            self._lost += 1
        else:
            self._writer.append(value)

    def frame(self, frame: Frame) -> None:
        if self._writer is not None:
            self._writer.frame(frame)

    def recorded(self) -> tuple[str, int] | None:
        """Which segment it is, and its newest row; None while there is none."""
        return None if self._writer is None else (self._writer.path.name, self._writer.last)

    def commit(self) -> bool:
        return self._writer is not None and self._writer.commit()

    def close(self) -> Closing:
        """Close the segment and tell the index; the next start goes on with it."""
        if self._writer is None:
            return Closing(self._written, self._lost, self._refused)
        closing = self._writer.close()
        self.note()
        return dataclasses.replace(closing, written=closing.written + self._written)

    def release(self) -> None:
        """Wait for what is being done beside, but not for long, and let others have the record."""
        self._worker.finish()
        self._lock.let_go()

    # What only a record has.

    @property
    def work_trouble(self) -> str | None:
        """A line on what could not be done beside, None after what could."""
        return self._worker.trouble

    def worked(self, value: Input, events: Iterable[Event]) -> None:
        """The engine took an input: the book takes it too."""
        self.book.take(value, events, self._showing.glance)
        if value.seconds - self._looked >= LOOK_AFTER_SECONDS:
            self._looked = value.seconds
            self.look_after(value.seconds)

    def note(self) -> None:
        """Tell the index what the segment amounts to so far."""
        if self._writer is None:
            return
        segment = Segment(self.number, "", self._writer.path, False)
        entry = entry_of(segment, self._header, self._summary())
        self._worker.do(lambda: self._keeper.note(entry))

    def look_after(self, now: float) -> None:
        """Seal, thin and make room, beside acquisition."""
        current = self.number

        def job() -> None:
            kept = self._keeper.look_after(now, current)
            if kept.for_room:
                self.tell_thinned(kept)

        self._worker.do(job)

    def _summary(self) -> Json:
        rows = 0 if self._writer is None else self._writer.last
        return self.book.summary(self._showing.snapshot(), rows)

    def _over(self, seconds: float) -> bool:
        """Whether the segment's day is over: by the clock as it is known now, which dates the
        segment's first row as well."""
        first = self.book.first
        if first is None or seconds <= first or seconds < self._roll_again:
            return False
        offset = self._offset()
        if offset is None:
            return seconds - first > LONGEST_SECONDS
        zone = self._setting.zone_seconds
        return day_of(seconds + offset, zone) != day_of(first + offset, zone)

    def _try_again(self, seconds: float) -> None:
        """Begin the segment that was refused, from how things stand now."""
        if seconds < self._roll_again:
            return
        book = Book(self._showing.site, self.book.carry())
        try:
            self.begin(self.number, book, seconds)
        except CaptureError as error:
            self.wait(self.number, book, seconds, str(error))

    def _roll(self, seconds: float) -> None:
        """End the segment and begin the next; where that is refused the old one goes on."""
        summary, number, before = self._summary(), self.number, self._writer
        assert before is not None
        book = Book(self._showing.site, self.book.carry())
        self._roll_again = seconds + _AGAIN_SECONDS
        if not before.commit():
            return
        try:
            self.begin(number + 1, book, seconds)
        except CaptureError:
            return
        self.commit_seconds = before.commit_seconds
        self._written += before.close().written
        self._worker.do(lambda: self._keeper.seal(number, summary))

    def _new_header(self, number: int, book: Book) -> Header:
        setting = self._setting
        return dataclasses.replace(
            setting.header,
            state=self._showing.state(),
            wall_offset=self._offset(),
            version=SEGMENT_VERSION,
            segment={
                "number": number,
                "boot": setting.boot,
                "shift": setting.shift,
                "zone_seconds": setting.zone_seconds,
                "carry": book.carry(),
            },
        )
