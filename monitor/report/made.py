"""From files to a report's bytes: record and recording read, looked at again, written in a form.

    making = making_of(record_path, capture_path, ...)     Refusal, OSError in one line
    data = rendered(making, ".html")

The same files and the same wishes give the same bytes, on any machine.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final

from monitor.commission.record import CommissionRecord, Span
from monitor.commission.record_file import from_text
from monitor.mishaps import Refusal
from monitor.report.again import Run, differences, look_again, replayable
from monitor.report.contents import document
from monitor.report.making import Making
from monitor.report.seal import Seal, sha256_of
from monitor.report.told import zone_of
from replay.segments import Segment, pin, segments

KINDS: Final = (".html", ".txt", ".pdf")


def read_record(path: Path) -> CommissionRecord:
    """Refusal in one line where there is none or it cannot be read as one."""
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise Refusal(
            f"{path}: expected a commissioning record, found no such file; "
            "one is written by: ampwright commission"
        ) from None
    except UnicodeDecodeError:
        raise Refusal(f"{path}: expected a commissioning record, found something else") from None
    return from_text(text, str(path))


def capture_of(record: CommissionRecord, path: Path, given: Path | None) -> Path:
    """The recording behind a record: the one named, else that of its name beside it."""
    if given is not None:
        if not given.is_file():
            raise Refusal(f"{given}: expected a capture, found no such file; check the name")
        return given
    name = record.evidence.capture
    if not name:
        raise Refusal(
            f"{path}: no recording was kept with this commissioning; name one with --capture, or "
            "go without plots and replay: --no-capture"
        )
    beside = path.parent / Path(name).name
    if not beside.is_file():
        raise Refusal(
            f"{beside}: expected the recording of this record there, found none; "
            "name it with --capture, or go without: --no-capture"
        )
    return beside


def making_of(
    record_path: Path,
    capture_path: Path | None,
    *,
    software: str,
    next_service: str = "",
    paper: str = "a4",
    zone: int | None = None,
    progress: Callable[[float], None] = lambda _: None,
) -> Making:
    """All that the report is made from; the recording is replayed on the way."""
    from monitor.recorded import open_recorded

    record = read_record(record_path)
    seal = Seal(
        record=record_path.name,
        record_sha256=sha256_of(record_path),
        capture="" if capture_path is None else capture_path.name,
        capture_sha256="" if capture_path is None else sha256_of(capture_path),
        next_service=next_service or record.next_service,
        zone=zone_of(record.changed) if zone is None else zone,
        paper=paper,
        software=software,
    )
    if capture_path is None:
        return Making(record, seal)
    runs = earlier_runs(record, record_path, capture_path)
    again = look_again(record, open_recorded(capture_path), str(capture_path), progress, runs)
    whole = bool(runs)
    return Making(record, seal, again.charge, differences(record, again.record, whole), whole)


def earlier_recordings(
    record: CommissionRecord, path: Path, capture: Path
) -> tuple[tuple[Span, Path], ...]:
    """Of each run before the last, where its recording should lie: beside the last one, or beside
    the record; of a run of which nothing was taken in, none is needed."""
    found = []
    for span in record.recordings[:-1]:
        if not span.capture or not span.taken:
            continue
        name = Path(span.capture).name
        beside = capture.parent / name
        found.append((span, beside if beside.is_file() else path.parent / name))
    return tuple(found)


def earlier_runs(record: CommissionRecord, path: Path, capture: Path) -> tuple[Run, ...]:
    """The runs before the last with their recordings; none where one of them is not there or the
    record does not say enough of it."""
    from monitor.recorded import open_recorded

    if not replayable(record):
        return ()
    there = dict(earlier_recordings(record, path, capture))
    if not all(where.is_file() for where in there.values()):
        return ()
    return tuple(
        Run(span, open_recorded(there[span]) if span in there else None)
        for span in record.recordings[:-1]
    )


def rendered(making: Making, kind: str) -> bytes:
    """The file's bytes, in the form of its name's ending; Refusal without the PDF library."""
    made = document(making)
    match kind:
        case ".html":
            from monitor.report.html import html

            return html(made).encode()
        case ".txt":
            from monitor.report.plain import plain

            return plain(made).encode()
        case _:
            from monitor.report.pdf import pdf

            return pdf(made, making.seal.paper)


def segment_of(capture: Path) -> Segment | None:
    """The segment of a record of months that a capture is, None where it is a file by itself."""
    for each in segments(capture.absolute().parent):
        if each.path.name == capture.name:
            return each
    return None


def pin_for(capture: Path, report: str) -> bool:
    """Keep the recording from being thinned; whether it is a segment that can be pinned at all."""
    segment = segment_of(capture)
    if segment is None:
        return False
    pin(segment.path.parent, segment.number, f"report {report}")
    return True
