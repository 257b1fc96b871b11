"""Writing a capture: what was acknowledged survives a power cut, a kill and a full disk.

Rows wait in the process and go to disk together: an `fdatasync` costs the card about 16 KB
whatever it carries (measured on ext4), so the commit interval is the wear setting. At most the rows
of the last interval are lost when power fails; `commit` puts everything on disk at once (a
stage change, an alarm, a person's command).

A disk that refuses (full, read-only, gone) never stops the caller. Rows then wait in a backlog,
every interval tries again, `trouble` says what is wrong in one line, and `close` tells how many
rows were never written. What was acknowledged before stays: each attempt writes from the end of
the last acknowledged line.

`commit_seconds` may be changed at any time: whoever knows what is at stake says how long a row may
wait. `go_on_with` takes up a capture that a kill or a power cut ended.
"""

from __future__ import annotations

import errno
import os
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from adapters.adapter import Frame
from adapters.reading import Input
from replay.header import Header, header_row
from replay.rows import Row, to_row
from replay.sealed_lines import CaptureError, seal
from replay.tail import Tail

#: Seconds of rows a power cut may take (measured: 65 GB a year of writes to a card at 10 s).
COMMIT_SECONDS: Final = 10.0

#: Rows that wait while the disk refuses: about a day of one reading a second (from 90 B a row).
LONGEST_BACKLOG: Final = 8 * 1024 * 1024

#: A burst is committed early, so that a power cut never takes more than this many bytes.
_LARGEST_COMMIT: Final = 1024 * 1024

#: Where a system has no `fdatasync` (macOS), `fsync` does the same and a little more.
_put_on_disk: Final[Callable[[int], None]] = getattr(os, "fdatasync", os.fsync)


@dataclass(frozen=True, slots=True)
class Closing:
    """How a recording ended: rows put on disk, rows that never got there, and why."""

    written: int
    lost: int
    trouble: str | None


class CaptureWriter:
    """Appends inputs and raw frames to a new capture file.

    Time is that of the rows themselves: whatever is appended moves it on. Raises `CaptureError`
    when the file exists or cannot be made; afterwards no method raises because of the disk.
    """

    def __init__(
        self, path: str | os.PathLike[str], header: Header, commit_seconds: float = COMMIT_SECONDS
    ) -> None:
        self._begin(Path(path), commit_seconds)
        self._file, self._size = _create(self.path, header)

    @classmethod
    def go_on_with(
        cls, path: Path, tail: Tail, commit_seconds: float = COMMIT_SECONDS
    ) -> CaptureWriter:
        """Write on at the end of a capture, once what was torn there is cut off."""
        writer = cls.__new__(cls)
        writer._begin(path, commit_seconds)
        writer._next_number = tail.last + 1
        writer._there = tail.last
        writer._file, writer._size = _reopen(path, tail)
        return writer

    def _begin(self, path: Path, commit_seconds: float) -> None:
        self.path = path
        self.commit_seconds = commit_seconds
        self.trouble: str | None = None
        self._waiting: deque[bytes] = deque()
        self._waiting_bytes = 0
        self._next_number = 1
        self._there = 0
        self._dropped = 0
        self._committed_at: float | None = None
        self._tried_bytes = 0
        self._closed: Closing | None = None

    @property
    def waiting(self) -> int:
        """Rows that are not on disk yet."""
        return len(self._waiting)

    @property
    def last(self) -> int:
        """The number of the newest row, on disk or waiting."""
        return self._next_number - 1

    def recorded(self) -> tuple[str, int]:
        """Which capture it is, from anywhere, and its newest row."""
        return str(self.path.absolute()), self.last

    @property
    def dropped(self) -> int:
        """Rows given up because the disk refused for too long; their numbers stay missing."""
        return self._dropped

    def append(self, value: Input) -> None:
        self._add(to_row(value), value.seconds)

    def frame(self, frame: Frame) -> None:
        self._add(to_row(frame), frame.seconds)

    def commit(self) -> bool:
        """Puts every waiting row on disk; true when all of them are there."""
        if self._closed is not None:
            return not self._closed.lost
        if not self._waiting:
            return True
        self._tried_bytes = self._waiting_bytes
        try:
            _write_all(self._file, b"".join(self._waiting), self._size)
            _put_on_disk(self._file)
        except OSError as error:
            self.trouble = (
                f"{self.path}: {len(self._waiting)} rows wait to be written "
                f"({error.strerror or error}); {_advice(error)}"
            )
            return False
        self._size += self._waiting_bytes
        self._waiting.clear()
        self._waiting_bytes = self._tried_bytes = 0
        self.trouble = None
        return True

    def close(self) -> Closing:
        """Commits and closes. Tells what was not written instead of raising; may be repeated."""
        if self._closed is not None:
            return self._closed
        if not self.commit():
            _cut(self._file, self._size)
        trouble = self.trouble
        try:
            os.close(self._file)
        except OSError as error:  # a full disk may say so once more here
            trouble = trouble or f"{self.path}: closed with an error ({error.strerror or error})"
        lost = len(self._waiting) + self._dropped
        if lost:
            why = trouble.split(" (", 1)[-1] if trouble else "the disk refused for a while)"
            trouble = f"{self.path}: {lost} rows were not written ({why}"
        self._closed = Closing(self.last - self._there - lost, lost, trouble)
        self._waiting.clear()
        return self._closed

    def _add(self, row: Row, seconds: float) -> None:
        if self._closed is not None:
            raise ValueError("this capture is closed")
        line = seal(self._next_number, row)
        self._next_number += 1
        self._waiting.append(line)
        self._waiting_bytes += len(line)
        while self._waiting_bytes > LONGEST_BACKLOG:
            self._waiting_bytes -= len(self._waiting.popleft())
            self._dropped += 1
        if self._due(seconds):
            self._committed_at = seconds
            self.commit()

    def _due(self, seconds: float) -> bool:
        if self._committed_at is None:
            self._committed_at = seconds
        late = abs(seconds - self._committed_at) >= self.commit_seconds
        return late or self._waiting_bytes - self._tried_bytes >= _LARGEST_COMMIT


def _create(path: Path, header: Header) -> tuple[int, int]:
    """A new file with its header on disk, and the directory entry on disk too."""
    try:
        first = seal(0, header_row(header))
    except (ValueError, TypeError) as error:
        raise CaptureError(f"{path}: the header cannot be written as JSON ({error})") from None
    try:
        file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o644)
    except OSError as error:
        raise cannot_create(path, error) from None
    try:
        _write_all(file, first, 0)
        _put_on_disk(file)
        sync_directory(path.parent)
    except OSError as error:
        os.close(file)
        path.unlink(missing_ok=True)
        raise cannot_create(path, error) from None
    return file, len(first)


def _reopen(path: Path, tail: Tail) -> tuple[int, int]:
    try:
        file = os.open(path, os.O_WRONLY | os.O_CLOEXEC)
    except OSError as error:
        raise cannot_create(path, error) from None
    try:
        os.ftruncate(file, tail.end)
        if tail.unended:
            _write_all(file, b"\n", tail.end)
        _put_on_disk(file)
    except OSError as error:
        os.close(file)
        raise cannot_create(path, error) from None
    return file, tail.end + tail.unended


def _write_all(file: int, data: bytes, offset: int) -> None:
    view = memoryview(data)
    while view:
        written = os.pwrite(file, view, offset)
        view, offset = view[written:], offset + written


def _cut(file: int, size: int) -> None:
    """Takes off what was never acknowledged; a reader would leave it out anyway."""
    try:
        os.ftruncate(file, size)
    except OSError:
        return


def sync_directory(directory: Path) -> None:
    """Puts a new name on disk; some file systems cannot and say so with EINVAL, which is theirs."""
    handle = os.open(directory, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno != errno.EINVAL:
            raise
    finally:
        os.close(handle)


_ADVICE: Final = {
    errno.ENOSPC: "free some space on that disk",
    errno.EDQUOT: "free some of the space allowed to you",
    errno.EFBIG: "the file may not grow further, begin a new capture",
    errno.EROFS: "the disk is read-only, check it and mount it writable",
    errno.EIO: "the disk fails, replace it",
}


def _advice(error: OSError) -> str:
    return _ADVICE.get(error.errno or 0, "check the disk")


def cannot_create(path: Path, error: OSError) -> CaptureError:
    """An operating system's refusal of a new file, as one line with what to do."""
    match error:
        case FileExistsError():
            why = "exists already and is never written over; choose another name"
        case FileNotFoundError() | NotADirectoryError():
            why = f"there is no directory {path.parent}; make it first"
        case PermissionError():
            why = f"no permission to write in {path.parent}; choose another directory"
        case _:
            why = f"cannot be made ({error.strerror or error}); {_advice(error)}"
    return CaptureError(f"{path}: {why}")
