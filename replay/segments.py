"""A record of months as a directory of captures: one segment for each day and start.

    00042-2026-03-14.capture.gz     finished and sealed (`replay.seal`)
    00043-2026-03-15.capture        being written

The number alone says the order and is never given twice. The day is there for people: the day
that began the segment, or `undated` where the clock could not be believed. A segment is pinned by
a file of its number beside it (`00042.pin`) that says for whom, a line each: what a report rests
on is never thinned.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final, NamedTuple

from replay.sealed_lines import CaptureError, unreadable
from replay.writer import sync_directory

UNDATED: Final = "undated"
PLAIN: Final = ".capture"
SEALED: Final = ".capture.gz"
#: What a write that was cut short leaves behind.
PART: Final = ".part"
_NAME: Final = re.compile(r"(\d{5,})-(\d{4,}-\d\d-\d\d|undated)(\.capture(?:\.gz)?)")


class Segment(NamedTuple):
    """One file of a record."""

    number: int
    label: str
    path: Path
    sealed: bool


def segment_path(directory: Path, number: int, label: str, *, sealed: bool = False) -> Path:
    return directory / f"{number:05d}-{label}{SEALED if sealed else PLAIN}"


def segments(directory: Path) -> list[Segment]:
    """Every segment, by number. Where a seal was just made the plain file may still stand beside
    it: the sealed one counts, since it was whole before it got its name."""
    found: dict[int, Segment] = {}
    try:
        paths = sorted(directory.iterdir())
    except OSError as error:
        if isinstance(error, NotADirectoryError):
            raise CaptureError(
                f"{directory}: is a file; name the directory of the record"
            ) from None
        raise unreadable(directory, error) from None
    for path in paths:
        match = _NAME.fullmatch(path.name)
        if match is None:
            continue
        segment = Segment(int(match[1]), match[2], path, match[3] == SEALED)
        other = found.get(segment.number)
        if other is None or segment.sealed or not other.sealed:
            found[segment.number] = segment
    return [found[number] for number in sorted(found)]


def tidy(directory: Path) -> list[Path]:
    """Take away what writes that were cut short left: half files, and plain files whose sealed
    form is there. For the owner of the record alone; a disk that refuses keeps them until it
    does not."""
    kept = {segment.path for segment in segments(directory)}
    gone = [
        path
        for path in sorted(directory.iterdir())
        if _NAME.fullmatch(path.name.removesuffix(PART)) and path not in kept
    ]
    try:
        for path in gone:
            path.unlink(missing_ok=True)
        if gone:
            sync_directory(directory)
    except OSError:
        return []
    return gone


def pin_path(directory: Path, number: int) -> Path:
    return directory / f"{number:05d}.pin"


def pins(directory: Path, number: int) -> tuple[str, ...]:
    """For whom a segment is pinned; a pin file that says nothing pins all the same."""
    try:
        text = pin_path(directory, number).read_text(encoding="utf-8", errors="replace")
    except FileNotFoundError:
        return ()
    except OSError:
        return ("a pin that cannot be read",)
    return tuple(line for line in text.splitlines() if line.strip()) or ("nobody named",)


def pin(directory: Path, number: int, whom: str) -> None:
    """Keep a segment as it is, for somebody; more than once is no more than once."""
    there = pins(directory, number)
    line = " ".join(whom.split())
    if line in there:
        return
    path = pin_path(directory, number)
    try:
        path.write_text("".join(f"{each}\n" for each in (*there, line)), encoding="utf-8")
        sync_directory(directory)
    except OSError as error:
        raise CaptureError(f"{path}: cannot be pinned ({error.strerror or error})") from None


def unpin(directory: Path, number: int, whom: str | None = None) -> bool:
    """Let go of what one pinned, or everybody; whether anything was let go."""
    there = pins(directory, number)
    left = [each for each in there if whom is not None and each != " ".join(whom.split())]
    if len(left) == len(there):
        return False
    path = pin_path(directory, number)
    try:
        if left:
            path.write_text("".join(f"{each}\n" for each in left), encoding="utf-8")
        else:
            path.unlink(missing_ok=True)
        sync_directory(directory)
    except OSError as error:
        raise CaptureError(f"{path}: cannot be let go ({error.strerror or error})") from None
    return True
