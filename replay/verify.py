"""Is a capture sound, and if not, what can be saved of it. The original is never touched."""

from __future__ import annotations

import gzip
import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, NamedTuple

from replay.header import Header, NewerVersionError, header_from_row, header_row
from replay.reader import Problems, open_capture, sound_rows
from replay.rows import Row, RowError
from replay.sealed_lines import Blocks, CaptureError, raw_lines, seal, unseal
from replay.writer import cannot_create, sync_directory

#: A silence longer than this counts as a gap: devices report every few seconds, and the engine
#: gets a tick every second, so half a minute without anything is a stopped recording.
GAP_SECONDS: Final = 30.0

#: Kinds of row, as they are counted and named to a person.
_KINDS: Final = {
    "Reading": "readings",
    "LinkState": "link changes",
    "Tick": "ticks",
    "Command": "commands",
    "Frame": "raw frames",
}


class Gap(NamedTuple):
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Verification:
    """What a capture holds and what is amiss. `sound` means that nothing recorded is lost."""

    path: Path
    header: Header
    counts: dict[str, int]
    first_seconds: float | None
    last_seconds: float | None
    gaps: tuple[Gap, ...]
    problems: Problems

    @property
    def sound(self) -> bool:
        return self.problems.lossless

    @property
    def rows(self) -> int:
        return sum(self.counts.values())

    def words(self) -> tuple[str, ...]:
        """The whole finding, a line each."""
        held = ", ".join(f"{count} {kind}" for kind, count in self.counts.items() if count)
        lines = [f"{self.path}: {'sound' if self.sound else 'damaged'}; {held or 'no rows'}"]
        if self.first_seconds is not None and self.last_seconds is not None:
            hours = (self.last_seconds - self.first_seconds) / 3600
            lines.append(
                f"from {self.first_seconds:.1f} s to {self.last_seconds:.1f} s ({hours:.2f} h)"
            )
        lines.extend(self.problems.words())
        if self.gaps:
            longest = max(self.gaps, key=lambda gap: gap.end - gap.start)
            lines.append(
                f"{len(self.gaps)} gaps without any row, the longest "
                f"{longest.end - longest.start:.0f} s after {longest.start:.1f} s"
            )
        lines.extend(f"noted in the file: {note}" for note in self.header.notes)
        return tuple(lines)


@dataclass(frozen=True, slots=True)
class Repair:
    """What was saved into `out`."""

    out: Path
    kept: int
    problems: Problems
    header_saved: bool

    def words(self) -> tuple[str, ...]:
        lines = [f"{self.out}: {self.kept} rows saved"]
        if not self.header_saved:
            lines.append("the header could not be saved: give the bank with --bank when replaying")
        return (*lines, *self.problems.words())


def verify(path: str | os.PathLike[str], gap_seconds: float = GAP_SECONDS) -> Verification:
    """Reads all of a capture. Raises `CaptureError` where it cannot be read at all."""
    capture = open_capture(path)
    kinds: Counter[str] = Counter()
    gaps: list[Gap] = []
    first: float | None = None
    last: float | None = None
    for value in capture.recorded():
        kinds[type(value).__name__] += 1
        if first is None:
            first = value.seconds
        if last is None or value.seconds > last:
            if last is not None and value.seconds - last > gap_seconds:
                gaps.append(Gap(last, value.seconds))
            last = value.seconds
    counts = {words: kinds[kind] for kind, words in _KINDS.items()}
    return Verification(
        capture.path, capture.header, counts, first, last, tuple(gaps), capture.problems
    )


def repair(path: str | os.PathLike[str], out: str | os.PathLike[str]) -> Repair:
    """Writes every sound row to `out`, numbered anew, with a note in its header of what was lost.

    A header that does not prove itself is not believed: a wrong figure in a config can hurt a
    bank. Rows of a newer minor version are kept as they are. A name ending in .gz is compressed.
    """
    where, target = Path(path), Path(out)
    header = _saved_header(where)
    problems = Problems()
    kept = sum(1 for _ in sound_rows(where, problems))
    if not kept and header is None:
        raise CaptureError(f"{where}: not one sound row in it; nothing can be saved")
    note = "; ".join(problems.words())
    saved = header or Header()
    if note or header is None:
        said = note or "no row was lost"
        lost_header = "" if header else "the header was lost; "
        saved = replace(saved, notes=(*saved.notes, f"repaired: {lost_header}{said}"))
    _write(target, saved, sound_rows(where, Problems()))
    return Repair(target, kept, problems, header is not None)


def compress(path: str | os.PathLike[str], out: str | os.PathLike[str]) -> Path:
    """A finished, sound capture as gzip: the same capture always gives the same bytes."""
    capture = open_capture(path)
    problems = Problems()
    for _ in sound_rows(capture.path, problems):
        pass
    if not problems.lossless:
        raise CaptureError(
            f"{capture.path}: damaged ({'; '.join(problems.words())}); "
            f"save it first with `ampwright capture repair {capture.path} NEW`"
        )
    target = Path(out)
    _write(target, capture.header, sound_rows(capture.path, Problems()))
    return target


def _saved_header(path: Path) -> Header | None:
    first = next(raw_lines(Blocks(path)), None)
    sealed = unseal(first.data) if first else None
    if sealed is None:
        return None
    try:
        return header_from_row(sealed[1])
    except NewerVersionError as error:
        raise CaptureError(f"{path}: {error}; update ampwright to repair it") from None
    except RowError:
        return None


def _write(target: Path, header: Header, rows: Iterator[Row]) -> None:
    """Everything into a neighbouring file, on disk, and only then under its name."""
    if target.exists():
        raise cannot_create(target, FileExistsError())
    part = target.with_name(target.name + ".part")
    try:
        with part.open("wb") as file:
            if target.suffix == ".gz":
                # No name and no time inside, so that the bytes depend on the capture alone.
                with gzip.GzipFile("", "wb", 9, file, mtime=0) as packed:
                    packed.writelines(_lines(header, rows))
            else:
                file.writelines(_lines(header, rows))
            file.flush()
            os.fsync(file.fileno())
        part.rename(target)
        sync_directory(target.parent)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise cannot_create(target, error) from None


def _lines(header: Header, rows: Iterator[Row]) -> Iterator[bytes]:
    yield seal(0, header_row(header))
    for number, row in enumerate(rows, start=1):
        yield seal(number, row)
