"""Whether a report still says what its evidence says: digests, then the replay, in plain words."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from monitor.commission.record import CommissionRecord, Span
from monitor.commission.record_file import KIND
from monitor.mishaps import Refusal
from monitor.report.again import elsewhere, leave_words
from monitor.report.made import (
    KINDS,
    capture_of,
    earlier_recordings,
    making_of,
    read_record,
    rendered,
)
from monitor.report.making import Making
from monitor.report.seal import Seal, seal_in, sha256_of
from monitor.report.told import name_of
from monitor.software import software


class Finding(NamedTuple):
    """`same`: nothing was found changed; `lines` say what was looked at and what was found."""

    same: bool
    lines: tuple[str, ...]


class _Findings:
    def __init__(self) -> None:
        self.same = True
        self.lines: list[str] = []

    def good(self, words: str) -> None:
        self.lines.append(f"same: {words}")

    def bad(self, words: str) -> None:
        self.same = False
        self.lines.append(f"CHANGED: {words}")

    def note(self, words: str) -> None:
        self.lines.append(f"note: {words}")


def verified(
    file: Path,
    record_path: Path | None,
    capture_path: Path | None,
    *,
    replay: bool = True,
    progress: Callable[[float], None] = lambda _: None,
) -> Finding:
    """Judge a report (in any of its forms) or a record; Refusal where neither can be read."""
    data = file.read_bytes()
    seal = seal_in(data, str(file)) if not _is_record(data) else None
    if seal is None and not _is_record(data):
        raise Refusal(
            f"{file}: expected a report made by this program or a commissioning record, found "
            "something else"
        )
    found = _Findings()
    path = _record_path(file, record_path, seal)
    record = read_record(path)
    if seal is not None:
        _record_digest(path, seal, found)
    capture = capture_of(record, path, capture_path) if replay else None
    expected = seal.capture_sha256 if seal is not None else record.evidence.digest
    if capture is not None:
        _capture_digest(capture, expected, found)
        _readable(capture, found)
        for span, where in earlier_recordings(record, path, capture):
            _earlier(span, where, found)
    making = making_of(
        path,
        capture,
        software=seal.software if seal is not None else software(),
        next_service=seal.next_service if seal is not None else "",
        paper=seal.paper if seal is not None else "a4",
        zone=seal.zone if seal is not None else 0,
        progress=progress,
    )
    _replayed(making, found)
    if seal is not None and found.same:
        _letters(file, data, seal, making, found)
    found.lines.append(
        "Nothing has changed." if found.same else "Something HAS changed; see above."
    )
    return Finding(found.same, tuple(found.lines))


def _is_record(data: bytes) -> bool:
    return KIND.encode() in data[:200]


def _record_path(file: Path, given: Path | None, seal: Seal | None) -> Path:
    if given is not None:
        return given
    if seal is None:
        return file
    beside = file.parent / Path(seal.record).name
    if not beside.is_file():
        raise Refusal(
            f"{beside}: expected the record that this report was made from there, found none; "
            "name it with --record"
        )
    return beside


def _record_digest(path: Path, seal: Seal, found: _Findings) -> None:
    if sha256_of(path) == seal.record_sha256:
        found.good(f"{path} is the record that the report was made from (SHA-256)")
    else:
        found.bad(
            f"{path} is not as it was when the report was made: its SHA-256 is not the printed one"
        )


def _capture_digest(capture: Path, expected: str, found: _Findings) -> None:
    if not expected:
        found.note("no digest of the recording was kept, so only what it says can be compared")
    elif sha256_of(capture) == expected:
        found.good(f"{capture} is the recording of that day (SHA-256 {expected})")
    else:
        found.bad(
            f"{capture} is not the recording of that day: expected SHA-256 {expected}, "
            f"found {sha256_of(capture)}"
        )


def _earlier(span: Span, where: Path, found: _Findings) -> None:
    """A recording that the commissioning was begun in."""
    if where.is_file():
        _capture_digest(where, span.digest, found)
        _readable(where, found)
    else:
        found.note(f"{where}: the commissioning was begun in it, and it is not there")


def _readable(capture: Path, found: _Findings) -> None:
    from replay.capture import verify

    problems = verify(capture).problems
    if not problems.lossless:
        found.bad(f"{capture} is damaged: {'; '.join(problems.words())}")


def _replayed(making: Making, found: _Findings) -> None:
    if making.charge is None:
        found.note("without the recording nothing was replayed")
        return
    record: CommissionRecord = making.record
    others = elsewhere(record, making.whole)
    for each in others:
        where = each.evidence.capture or "no recording"
        found.note(f"{name_of(each)} rests on {where}, and was not replayed")
    for words in making.changed:
        found.bad(f"replayed: {words}")
    leave = leave_words(record, making.whole)
    if leave:
        found.note(leave)
    if not making.changed:
        count = len(record.outcomes) - len(others)
        runs = len(record.recordings) if making.whole else 1
        which = "the recording" if runs == 1 else f"{runs} recordings, one after the other,"
        found.good(f"{count} checks replayed from {which} come to what the record says")


def _letters(file: Path, data: bytes, seal: Seal, making: Making, found: _Findings) -> None:
    """The report written anew must be the report, letter by letter."""
    if seal.software != software():
        found.note(
            f"the report was made with {seal.software}, this is {software()}: "
            "its wording is not compared"
        )
        return
    if bool(seal.capture) != (making.charge is not None):
        found.note("the report's wording is not compared without the recording it was made with")
        return
    kind = file.suffix.lower()
    if kind not in KINDS:
        found.note(f"{file} does not end in {', '.join(KINDS)}: its wording is not compared")
        return
    try:
        anew = rendered(making, kind)
    except Refusal as refusal:
        found.note(f"its wording is not compared: {refusal}")
        return
    if anew == data:
        found.good(f"{file} is letter by letter what these files make")
    elif kind == ".pdf":
        found.note(
            f"{file} is not byte by byte what these files make here: it was changed, or its PDF "
            "library was of another version; compare it with a report made anew"
        )
    else:
        found.bad(f"{file} is not letter by letter what these files make: it was edited")
