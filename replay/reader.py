"""Reading a capture: every sound line, no wrong one, and a count of what was amiss.

Nothing is held in memory: each pass reads the file anew, so a capture of months plays on a small
board. Damage is passed over and counted in `Problems`; only a file that cannot be used at all is
an error.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from adapters.adapter import Frame
from adapters.reading import Input
from replay.header import (
    Header,
    NewerVersionError,
    header_from_row,
    looks_like_header,
)
from replay.rows import SUMMARY, Recorded, Row, RowError, from_row
from replay.sealed_lines import (
    GZIP_MAGIC,
    Blocks,
    CaptureError,
    raw_lines,
    unreadable,
    unseal,
)

#: How much of the end of a file is searched for its last time: some hundred rows.
_TAIL_BYTES: Final = 64 * 1024

#: How much of a first line that is not ours is shown.
_SHOWN: Final = 40


@dataclass(slots=True)
class Problems:
    """What a pass over a capture met and left out.

    `torn_bytes` is a last line without an end, as a power cut leaves it; `missing` counts numbers
    that no sound line carries; `unknown` counts rows and values that only newer software knows.
    """

    damaged_lines: int = 0
    missing: int = 0
    repeated: int = 0
    malformed: int = 0
    torn_bytes: int = 0
    gzip_cut: bool = False
    unknown: int = 0

    @property
    def lossless(self) -> bool:
        """Nothing that was recorded is lost (rows that only newer software knows are not lost)."""
        return self == Problems(unknown=self.unknown)

    def words(self) -> tuple[str, ...]:
        """Each problem as a phrase."""
        phrases = (
            (self.damaged_lines, "damaged lines left out"),
            (self.missing, "rows missing by number"),
            (self.repeated, "rows left out because their numbers do not rise"),
            (self.malformed, "rows left out because they are not made as rows are"),
            (self.torn_bytes, "bytes of a torn last line left out, as a power cut leaves it"),
            (self.unknown, "rows or values of a newer version left out"),
        )
        found = [f"{count} {words}" for count, words in phrases if count]
        if self.gzip_cut:
            found.append("the compressed file is cut short or damaged, what follows is lost")
        return tuple(found)


class Capture:
    """A capture on disk. Every iteration is a new pass; `problems` belongs to the newest one."""

    def __init__(self, path: Path, header: Header) -> None:
        self.path = path
        self.header = header
        self.problems = Problems()
        self._span: tuple[float, float] | None = None

    @property
    def title(self) -> str:
        return self.header.title or self.path.name

    @property
    def start(self) -> float:
        """Seconds of the first row; 0 where nothing was recorded."""
        return self._ends()[0]

    @property
    def end(self) -> float:
        """The latest seconds among the last rows; 0 where nothing was recorded."""
        return self._ends()[1]

    def inputs(self) -> Iterator[Input]:
        """Every input, in the order in which it was recorded."""
        return (value for value in self.recorded() if not isinstance(value, Frame))

    def frames(self) -> Iterator[Frame]:
        """Every raw frame, in the order in which it was recorded."""
        return (value for value in self.recorded() if isinstance(value, Frame))

    def recorded(self, after: int = 0) -> Iterator[Recorded]:
        """Inputs and frames together, as they were recorded; those numbered above `after`."""
        problems = self.problems = Problems()
        for row in sound_rows(self.path, problems, after):
            if row.get("k") == SUMMARY:
                continue
            try:
                value, unknown = from_row(row)
            except RowError:
                problems.malformed += 1
                continue
            problems.unknown += unknown
            if value is None:
                problems.unknown += 1
            else:
                yield value

    def _ends(self) -> tuple[float, float]:
        if self._span is None:
            before = self.problems
            first = next(iter(self.recorded()), None)
            self.problems = before
            last = _last_seconds(self.path) if first else None
            self._span = (
                first.seconds if first else 0.0,
                max(last, first.seconds) if first and last is not None else 0.0,
            )
        return self._span


def open_capture(path: str | os.PathLike[str]) -> Capture:
    """Opens a plain or gzip capture. Raises `CaptureError` where it cannot be used at all."""
    where = Path(path)
    first = next(raw_lines(Blocks(where)), None)
    if first is None:
        raise CaptureError(_empty(where))
    sealed = unseal(first.data)
    if sealed is None:
        raise CaptureError(_no_header(where, first.data))
    try:
        return Capture(where, header_from_row(sealed[1]))
    except NewerVersionError as error:
        raise CaptureError(f"{where}: {error}; update ampwright to read it") from None
    except RowError as error:
        raise CaptureError(f"{where}: line 1: {error}; {_NOT_OURS}") from None


def sound_rows(path: Path, problems: Problems, after: int = 0) -> Iterator[Row]:
    """Every row after the header that proves itself and is numbered above `after`; what does not
    prove itself is counted in `problems`."""
    last = 0
    blocks = Blocks(path)
    for number, (data, whole) in enumerate(raw_lines(blocks)):
        sealed = unseal(data)
        if number == 0 and (sealed is None or sealed[0] == 0):
            continue
        if sealed is None:
            if whole:
                problems.damaged_lines += 1
            else:
                problems.torn_bytes += len(data)
            continue
        found, row = sealed
        if found <= last:
            problems.repeated += 1
            continue
        problems.missing += found - last - 1
        last = found
        if found > after:
            yield row
    problems.gzip_cut = not blocks.whole


def _last_seconds(path: Path) -> float | None:
    """The latest time in the last stretch of the file, without decoding the rest."""
    tail = b""
    for block in _ending(path):
        tail = (tail + block)[-_TAIL_BYTES:]
    times: list[float] = []
    for line in tail.split(b"\n"):
        sealed = unseal(line)
        found = sealed[1].get("t") if sealed else None
        if isinstance(found, float) or type(found) is int:
            times.append(found)
    return max(times, default=None)


def _ending(path: Path) -> Iterator[bytes]:
    """The end of a plain file, or all of a gzip file, whose end can be reached no other way."""
    try:
        with path.open("rb") as file:
            if file.read(2) != GZIP_MAGIC:
                file.seek(max(0, path.stat().st_size - _TAIL_BYTES))
                yield file.read(_TAIL_BYTES)
                return
    except OSError as error:
        raise unreadable(path, error) from None
    yield from Blocks(path)


_NOT_OURS: Final = "expected a file made by `ampwright record` or a CSV table"


def _empty(path: Path) -> str:
    if path.stat().st_size:
        return f"{path}: the compressed file is cut short before its first line; copy it again"
    return (
        f"{path}: is empty, the recording ended before its header was on disk; "
        "nothing was recorded, so it may be deleted"
    )


def _no_header(path: Path, line: bytes) -> str:
    if looks_like_header(line):
        return (
            f"{path}: line 1: the header is damaged or cut short; "
            f"save the rows with `ampwright capture repair {path} NEW`"
        )
    shown = line[:_SHOWN].decode("utf-8", "replace")
    return f"{path}: line 1: not a capture, it begins with {shown!r}; {_NOT_OURS}"
