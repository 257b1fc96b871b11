"""`ampwright report`: a commissioning on paper, and whether its evidence still says the same."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final

from monitor.commands.options import day
from monitor.mishaps import Refusal

if TYPE_CHECKING:
    from collections.abc import Callable

    from monitor.commission.record import CommissionRecord

#: Exit status where something is not as the report says; the lines say what.
CHANGED: Final = 1
_PAPERS: Final = ("a4", "letter")


def arguments(parser: argparse.ArgumentParser) -> None:
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    make = actions.add_parser("make", help="write the report of a commissioning record")
    make.add_argument("record", type=Path, metavar="RECORD", help="as ampwright commission kept it")
    _add_making(make)
    _add_capture(make)
    verify = actions.add_parser(
        "verify", help="replay the evidence: does it still say what the report says"
    )
    verify.add_argument("file", type=Path, metavar="FILE-OR-RECORD")
    verify.add_argument(
        "--record", type=Path, metavar="FILE", help="the record (else the one beside the report)"
    )
    _add_capture(verify)
    example = actions.add_parser("example", help="an example: an invented coach with a bad lug")
    example.add_argument(
        "folder",
        type=Path,
        metavar="FOLDER",
        nargs="?",
        default=Path("report-example"),
        help="where it goes, a new one (report-example)",
    )


def _add_making(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "-o",
        "--output",
        type=Path,
        metavar="FILE",
        required=True,
        help="ends in .html, .txt or .pdf, which says the form",
    )
    parser.add_argument("--next-service", type=day, metavar="DAY", help="not the one agreed on")
    parser.add_argument("--paper", choices=_PAPERS, default="a4", help="of a PDF (a4)")
    parser.add_argument("--replace", action="store_true", help="write over a file that is there")


def _add_capture(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--capture",
        type=Path,
        metavar="PATH",
        help="the recording (else the one beside the record)",
    )
    parser.add_argument(
        "--no-capture", action="store_true", help="without the recording: no plots, no replay"
    )


def run(arguments: argparse.Namespace) -> int:
    status: int = _ACTIONS[arguments.action](arguments)
    return status


def _make(arguments: argparse.Namespace) -> int:
    from monitor.report.made import capture_of, read_record

    _check_output(arguments)
    record = read_record(arguments.record)
    capture = None
    if not arguments.no_capture:
        capture = capture_of(record, arguments.record, arguments.capture)
        _check_capture(record, capture)
    return _write(arguments, arguments.record, capture)


def _check_output(arguments: argparse.Namespace) -> None:
    from monitor.report.made import KINDS

    output: Path = arguments.output
    if output.suffix.lower() not in KINDS:
        raise Refusal(f"{output}: expected a name that ends in {', '.join(KINDS)}")
    if output.exists() and not arguments.replace:
        raise Refusal(f"{output}: is there already; choose another name, or add --replace")


def _check_capture(record: CommissionRecord, capture: Path) -> None:
    """A report is only made from the very recording that the record was made with."""
    from monitor.report.made import segment_of
    from monitor.report.seal import sha256_of

    segment = segment_of(capture)
    if segment is not None and not segment.sealed:
        raise Refusal(
            f"{capture}: is still being written; make the report once its day is over and sealed"
        )
    expected, found = record.evidence.digest, sha256_of(capture)
    if expected and found != expected:
        raise Refusal(
            f"{capture}: expected the recording of SHA-256 {expected[:16]}..., found "
            f"{found[:16]}...: it is another one or was changed; name the right one with "
            "--capture, or go without: --no-capture"
        )


def _write(arguments: argparse.Namespace, record: Path, capture: Path | None) -> int:
    from monitor.report.made import making_of, pin_for, rendered
    from monitor.software import software

    output: Path = arguments.output
    making = making_of(
        record,
        capture,
        software=software(),
        next_service=arguments.next_service or "",
        paper=arguments.paper,
        progress=_progress(),
    )
    data = rendered(making, output.suffix.lower())
    pinned = capture is not None and pin_for(capture, output.name)
    _put(output, data)
    print(f"{output}: written")
    if capture is not None:
        print(f"{capture}: SHA-256 {making.seal.capture_sha256}{', pinned' if pinned else ''}")
        if not pinned:
            print("Keep the recording and the record beside the report: they are its evidence.")
    for words in making.changed:
        print(f"NOT the same when replayed: {words}")
    return CHANGED if making.changed else 0


def _put(output: Path, data: bytes) -> None:
    """Whole or not at all."""
    beside = output.with_name(output.name + ".part")
    try:
        beside.write_bytes(data)
        beside.replace(output)
    except OSError as error:
        beside.unlink(missing_ok=True)
        if error.filename == str(beside):
            error.filename = str(output)
        raise


def _progress() -> Callable[[float], None]:
    """A line on stderr where that is a terminal."""
    if not sys.stderr.isatty():
        return lambda _: None

    def told(share: float) -> None:
        end = "\r" if share < 1.0 else "\n"
        print(f"replaying the recording: {100 * share:3.0f} %", end=end, file=sys.stderr)

    return told


def _verify(arguments: argparse.Namespace) -> int:
    from monitor.report.verifying import verified

    finding = verified(
        arguments.file,
        arguments.record,
        arguments.capture,
        replay=not arguments.no_capture,
        progress=_progress(),
    )
    for line in finding.lines:
        print(line)
    return 0 if finding.same else CHANGED


def _example(arguments: argparse.Namespace) -> int:
    from monitor.report.example_files import EXAMPLE, put_example
    from monitor.report.made import KINDS, making_of, rendered
    from monitor.software import software

    folder: Path = arguments.folder
    record, capture = put_example(folder)
    making = making_of(record, capture, software=software(), zone=0, progress=_progress())
    for kind in KINDS:
        output = folder / f"{EXAMPLE}{kind}"
        try:
            _put(output, rendered(making, kind))
        except Refusal as refusal:
            print(f"{output}: not written: {refusal}")
        else:
            print(f"{output}: written")
    print(f"Does the evidence still say the same: ampwright report verify {folder / EXAMPLE}.html")
    return 0


_ACTIONS: Final = {"make": _make, "verify": _verify, "example": _example}
