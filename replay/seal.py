"""Finished segments: sealed, thinned, or reduced to what they amounted to.

A sealed segment is a capture of many independent gzip frames: damage in one costs the lines of that
one. The header is a frame of its own, and so is the last line of all, the summary: what the segment
amounted to, told by whoever kept the record (opaque here), with a SHA-256 of every line before it.
Checksums are of the lines, not of the compressed bytes, so they still hold when a file is packed
again.

A segment comes in three grades, each smaller than the one before:

    full      every row
    minute    for each device and minute one reading, the mean of its readings; inputs of every
              other kind as they were; no raw frames
    ledger    the header without its state, and the summary

A new file is written beside, put on disk, and then takes the old one's place: at every moment
one of the two is there whole.
"""

from __future__ import annotations

import hashlib
import os
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import Final, NamedTuple

from replay.header import Header, header_row
from replay.reader import open_capture
from replay.rows import SUMMARY, Row, to_row
from replay.sealed_lines import GZIP_MAGIC, Blocks, CaptureError, raw_lines, seal, unseal
from replay.segments import PART
from replay.tail import sound_number
from replay.thin import thinned
from replay.writer import cannot_create, sync_directory

#: Lines of a frame, before packing: damage to one byte costs no more. A tenth larger than one
#: frame for all (measured on a simulated day).
FRAME_BYTES: Final = 64 * 1024
#: Of zlib's 1 to 9; 6 packs as small as 9 within 1 % in a third of the time (measured).
LEVEL: Final = 6
#: The kind of a row stands right behind its number.
_KIND_WITHIN: Final = 48


class Grade(StrEnum):
    FULL = "full"
    MINUTE = "minute"
    LEDGER = "ledger"


class Ending(NamedTuple):
    """The summary a sealed segment carries, and whether the lines before it are those it was made
    of."""

    summary: Row
    intact: bool


def grade_of(header: Header) -> Grade:
    found = str((header.segment or {}).get("grade", Grade.FULL))
    return Grade(found) if found in set(Grade) else Grade.FULL


def seal_segment(path: Path, target: Path, summary: Row) -> None:
    """A finished plain segment as frames, in a new file; lines that prove nothing are left out."""
    lines = (raw.data for raw in raw_lines(Blocks(path)))
    _write(target, (line + b"\n" for line in lines if sound_number(line) is not None), summary)


def thin_segment(path: Path, target: Path, grade: Grade, summary: Row) -> None:
    """A segment of a lower grade, in a new file or in place of the old one."""
    capture = open_capture(path)
    header = capture.header
    if grade is Grade.LEDGER:
        header = replace(header, state=None)
    said = _SAID[grade]
    notes = header.notes if said in header.notes else (*header.notes, said)
    segment = {**(header.segment or {}), "grade": grade.value}
    header = replace(header, notes=notes, segment=segment)
    rows = map(to_row, thinned(capture.recorded())) if grade is Grade.MINUTE else iter(())
    lines = (seal(number, row) for number, row in enumerate(_with_header(header, rows)))
    _write(target, lines, summary)


_SAID: Final = {
    Grade.FULL: "",
    Grade.MINUTE: "thinned: one reading a minute of each device, the mean of those there were",
    Grade.LEDGER: "thinned: only what it amounted to is kept",
}


def ending(path: Path) -> Ending | None:
    """The summary at the end of a sealed segment; None where it has none that proves itself."""
    digest, last, intact = hashlib.sha256(), b"", False
    for raw in raw_lines(Blocks(path)):
        if last:
            digest.update(last + b"\n")
        last = raw.data
    sealed = unseal(last)
    if sealed is None or sealed[1].get("k") != SUMMARY:
        return None
    row = sealed[1]
    found = row.get("of")
    if not isinstance(found, dict):
        return None
    intact = row.get("sha256") == digest.hexdigest()
    return Ending(found, intact)


def _with_header(header: Header, rows: Iterable[Row]) -> Iterator[Row]:
    yield header_row(header)
    yield from rows


def _write(target: Path, lines: Iterable[bytes], summary: Row) -> None:
    part = target.with_name(target.name + PART)
    try:
        with part.open("wb") as file:
            for frame in _frames(_ended(lines, summary)):
                file.write(frame)
            file.flush()
            os.fsync(file.fileno())
        part.replace(target)
        sync_directory(target.parent)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise cannot_create(target, error) from None


def _ended(lines: Iterable[bytes], summary: Row) -> Iterator[bytes]:
    """The lines with the summary behind them; one that a file already carries is replaced."""
    digest, number = hashlib.sha256(), -1
    for line in lines:
        found = sound_number(line.rstrip(b"\n"))
        if found is None or _is_summary(line):
            continue
        number = found
        digest.update(line)
        yield line
    if number < 0:
        raise CaptureError("a segment without a header cannot be sealed")
    yield seal(number + 1, {"k": SUMMARY, "of": summary, "sha256": digest.hexdigest()})


def _is_summary(line: bytes) -> bool:
    return (b'"k":"%b"' % SUMMARY.encode()) in line[:_KIND_WITHIN]


def _frames(lines: Iterable[bytes]) -> Iterator[bytes]:
    """Independent gzip frames; the first holds the header alone, the last the summary."""
    waiting: list[bytes] = []
    held = 0
    for number, line in enumerate(lines):
        if waiting and _is_summary(line):
            yield _frame(b"".join(waiting))
            waiting, held = [], 0
        waiting.append(line)
        held += len(line)
        if number == 0 or held >= FRAME_BYTES:
            yield _frame(b"".join(waiting))
            waiting, held = [], 0
    if waiting:
        yield _frame(b"".join(waiting))


def _frame(data: bytes) -> bytes:
    """No name and no time inside, so that the bytes depend on the lines alone."""
    packer = zlib.compressobj(LEVEL, zlib.DEFLATED, 31)
    packed = packer.compress(data) + packer.flush()
    assert packed.startswith(GZIP_MAGIC)
    return packed
