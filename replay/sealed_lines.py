"""Lines on disk that prove themselves: each carries a number and a checksum of its own.

A sealed line is one JSON object, its first key the line's number, its last key the CRC-32 (zlib,
eight hex digits) of every byte before that key:

    {"n":17,"k":"tick","t":12.5,"crc":"0f3a9c21"}

A line that was torn by a power cut or has a bit turned fails its checksum and is left out; its
neighbours are unaffected. CRC-32 finds every error burst up to 32 bits and misses a longer one
once in 2**32 (the mathematics of the code).

Reading copes with plain and gzip files (told apart by their first bytes, never by name) and gives
back whatever a truncated or damaged gzip file still holds: a file written as many gzip frames
one after the other loses no more than the frame that is damaged.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import BinaryIO, Final, NamedTuple

#: No line may be longer: a file without line ends must not fill the memory. A header holds the
#: config, the descriptions and a starting state, all together well below a megabyte.
LONGEST_LINE: Final = 16 * 1024 * 1024

_BLOCK: Final = 256 * 1024
#: Whoever only looks at the beginning need not wait for a megabyte to be unpacked: read in pieces
#: that grow, from this on, each four times the one before.
_FIRST_BLOCK: Final = 4 * 1024
GZIP_MAGIC: Final = b"\x1f\x8b"
#: How a frame of ours begins: gzip, deflate, no flags and no time (RFC 1952).
_FRAME_START: Final = GZIP_MAGIC + b"\x08\x00\x00\x00\x00\x00"
_GZIP: Final = 31  # zlib: a gzip wrapper, the largest window
_SEAL: Final = b',"crc":"'
_SEAL_BYTES: Final = len(_SEAL) + 8 + len(b'"}')
_ENCODER: Final = json.JSONEncoder(separators=(",", ":"), allow_nan=False)


class CaptureError(Exception):
    """A recording cannot be used; the text is one line: where, what was found, what to do."""


class RawLine(NamedTuple):
    """One line without its line end; `whole` is false for what follows the last line end."""

    data: bytes
    whole: bool


def seal(number: int, row: dict[str, object]) -> bytes:
    """One row as a sealed line, with its line end."""
    body = _ENCODER.encode({"n": number, **row})[:-1].encode("ascii")
    return b'%b,"crc":"%08x"}\n' % (body, zlib.crc32(body))


def unseal(line: bytes) -> tuple[int, dict[str, object]] | None:
    """The number and the row of a sealed line, or None where the line does not prove itself."""
    body, mark = line[:-_SEAL_BYTES], line[-_SEAL_BYTES:]
    if mark != b'%b%08x"}' % (_SEAL, zlib.crc32(body)):
        return None
    try:
        row = json.loads(body + b"}")
    except ValueError:
        return None
    if not isinstance(row, dict):
        return None
    number = row.pop("n", None)
    if type(number) is not int:
        return None
    return number, row


class Blocks:
    """The content of a plain or gzip file in pieces, as far as it can be read.

    `whole` turns false, once everything was read, where a gzip file is cut short or damaged.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.whole = True

    def __iter__(self) -> Iterator[bytes]:
        try:
            with self.path.open("rb") as file:
                head, size = file.read(_FIRST_BLOCK), _FIRST_BLOCK
                if head.startswith(GZIP_MAGIC):
                    yield from self._gunzipped(head, file)
                    return
                while head:
                    yield head
                    size = min(4 * size, _BLOCK)
                    head = file.read(size)
        except OSError as error:
            raise unreadable(self.path, error) from None

    def _gunzipped(self, head: bytes, file: BinaryIO) -> Iterator[bytes]:
        inflate = zlib.decompressobj(wbits=_GZIP)
        frame = b""  # what was read of the frame at hand, to look for the next one if it breaks
        size = _FIRST_BLOCK
        while head:
            frame = (frame + head)[-_BLOCK:]
            try:
                piece = inflate.decompress(head)
            except zlib.error:
                self.whole = False
                # The line that broke off must not swallow the first one of the next frame.
                yield b"\n"
                head = _next_frame(frame, file)
                inflate, frame = zlib.decompressobj(wbits=_GZIP), b""
                continue
            if piece:
                yield piece
            head = inflate.unused_data
            if inflate.eof and head:  # a gzip file may be several, one after the other
                inflate, frame = zlib.decompressobj(wbits=_GZIP), b""
            else:
                size = min(4 * size, _BLOCK)
                head = file.read(size)
        self.whole = self.whole and inflate.eof


def _next_frame(broken: bytes, file: BinaryIO) -> bytes:
    """From where the next gzip frame seems to begin, after a broken one; empty where none does.

    What merely looks like a beginning breaks at once and is passed over like this again.
    """
    rest = broken[1:]
    while True:
        at = rest.find(_FRAME_START)
        if at >= 0:
            return rest[at:]
        more = file.read(_BLOCK)
        if not more:
            return b""
        rest = rest[1 - len(_FRAME_START) :] + more


def raw_lines(blocks: Iterable[bytes]) -> Iterator[RawLine]:
    """Every line of a file's content."""
    rest = b""
    for block in blocks:
        pieces = (rest + block).split(b"\n")
        rest = pieces.pop()
        for piece in pieces:
            yield RawLine(piece, True)
        if len(rest) > LONGEST_LINE:
            # Not a line of ours; what follows is read as if it began here and fails its checksum.
            yield RawLine(rest, False)
            rest = b""
    if rest:
        yield RawLine(rest, False)


def unreadable(path: Path, error: OSError) -> CaptureError:
    """An operating system's refusal to read, as one line with what to do."""
    if isinstance(error, FileNotFoundError):
        return CaptureError(f"{path}: no such file; check the path")
    if isinstance(error, IsADirectoryError):
        return CaptureError(f"{path}: is a directory; name the file inside it")
    if isinstance(error, PermissionError):
        return CaptureError(f"{path}: may not be read; ask its owner for permission to read it")
    return CaptureError(f"{path}: cannot be read ({error.strerror or error}); check the disk")
