"""Where a capture that somebody was writing really ends, so that it can be gone on with.

A look at every line's checksum and number alone, without decoding: a day of one reading a second
takes a fraction of a second. What follows the last sound line is what a power cut left of a write
that was never acknowledged.
"""

from __future__ import annotations

import zlib
from pathlib import Path
from typing import Final, NamedTuple

from replay.sealed_lines import CaptureError, unreadable

_NUMBER: Final = b'{"n":'
_SEAL: Final = b',"crc":"'
_SEAL_BYTES: Final = len(_SEAL) + 8 + len(b'"}')


class Tail(NamedTuple):
    """The end of the last sound line, whether a line end is missing there, and its number; bytes
    torn behind it, and whether every line before it is sound and in its place."""

    end: int
    unended: bool
    last: int
    torn_bytes: int
    whole: bool


def find_tail(path: Path) -> Tail:
    """Look at a plain capture; CaptureError where it cannot be read or has no sound header."""
    end = at = 0
    last, whole, unended, broken = -1, True, False, False
    try:
        with path.open("rb") as file:
            for line in file:
                at += len(line)
                number = sound_number(line.rstrip(b"\n"))
                if number is None:
                    broken = True
                    continue
                whole = whole and not broken and number == last + 1
                last, end, unended = max(last, number), at, not line.endswith(b"\n")
    except OSError as error:
        raise unreadable(path, error) from None
    if last < 0:
        raise CaptureError(f"{path}: not one sound line in it; nothing was recorded")
    return Tail(end, unended, last, at - end, whole)


def sound_number(line: bytes) -> int | None:
    """The number of a line that proves itself by its checksum; None for any other."""
    body, mark = line[:-_SEAL_BYTES], line[-_SEAL_BYTES:]
    if mark != b'%b%08x"}' % (_SEAL, zlib.crc32(body)) or not body.startswith(_NUMBER):
        return None
    digits = body[len(_NUMBER) : body.find(b",", len(_NUMBER))]
    return int(digits) if digits.isdigit() else None
