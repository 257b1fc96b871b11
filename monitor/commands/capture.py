"""`ampwright capture`: look after capture files, and the directory of a record."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.commands.options import add_columns, add_days, day, days_in_order
from monitor.mishaps import Refusal

if TYPE_CHECKING:
    from replay.capture import Problems


def arguments(parser: argparse.ArgumentParser) -> None:
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    verify = actions.add_parser("verify", help="count what is sound and what is not")
    verify.add_argument("file", type=Path, metavar="CAPTURE", help="or the directory of a record")
    repair = actions.add_parser("repair", help="save every sound row into a new capture")
    repair.add_argument("file", type=Path, metavar="CAPTURE")
    repair.add_argument("out", type=Path, metavar="NEW")
    take = actions.add_parser("import", help="make a capture from a CSV table")
    take.add_argument("file", type=Path, metavar="CSV")
    take.add_argument("out", type=Path, metavar="NEW")
    take.add_argument("--bank", type=Path, metavar="FILE", required=True, help="TOML of the bank")
    add_columns(take)
    give = actions.add_parser(
        "export", help="make a CSV or Parquet table from a capture, or from days of a record"
    )
    give.add_argument("file", type=Path, metavar="CAPTURE", help="or the directory of a record")
    give.add_argument("out", type=Path, metavar="NEW", help="ends in .csv or .parquet")
    add_days(give)
    give.add_argument("--of", metavar="BANK", help="the bank, where there are several")
    give.add_argument("--source", metavar="SOURCE", help="the source, where there are several")
    again = actions.add_parser("reindex", help="make the index of a record anew from its segments")
    again.add_argument("file", type=Path, metavar="DIR", help="the directory of a record")
    for name, words in (
        ("pin", "keep days of a record as they are, for somebody: they are never thinned"),
        ("unpin", "let go of days that were kept"),
    ):
        pin = actions.add_parser(name, help=words)
        pin.add_argument("file", type=Path, metavar="DIR", help="the directory of a record")
        pin.add_argument("first", type=day, metavar="DAY", help="the first day, as in 2026-03-14")
        pin.add_argument("last", type=day, metavar="LAST", nargs="?", help="the last day")
        pin.add_argument(
            "--for", dest="whom", metavar="WHOM", default=None, help="a report or a person"
        )


def run(arguments: argparse.Namespace) -> int:
    status: int = _ACTIONS[arguments.action](arguments)
    return status


def _verify(arguments: argparse.Namespace) -> int:
    """What the capture holds, on stdout; a damaged one is an error too, so a script can tell."""
    from replay.capture import verify

    if arguments.file.is_dir():
        return _verify_record(arguments.file)
    found = verify(arguments.file)
    wrong = found.problems.words()
    for line in found.words():
        if line not in wrong:  # that is told once, with what to do
            print(line)
    if not found.sound:
        raise Refusal(damaged(arguments.file, found.problems))
    return 0


def damaged(path: Path, problems: Problems) -> str:
    """One line on a damaged capture, with what to do."""
    return (
        f"{path}: {'; '.join(problems.words())}; "
        f"save what is sound with: ampwright capture repair {path} NEW"
    )


def _repair(arguments: argparse.Namespace) -> int:
    from replay.capture import repair

    for line in repair(arguments.file, arguments.out).words():
        print(line)
    return 0


def _import(arguments: argparse.Namespace) -> int:
    from monitor.recorded import open_recorded
    from monitor.software import software
    from replay.capture import CaptureWriter, Header

    recorded = open_recorded(arguments.file, arguments.bank, arguments.columns)
    if recorded.recording.header.config:
        raise Refusal(f"{arguments.file}: is a capture already; play it with ampwright replay")
    header = Header(
        config=recorded.config.text,
        descriptions=recorded.config.descriptions,
        software=software(),
        title=recorded.recording.title,
        origin=f"imported from {arguments.file.name}",
    )
    writer = CaptureWriter(arguments.out, header)
    for value in recorded.recording.inputs():
        writer.append(value)
    closing = writer.close()
    if closing.trouble is not None:
        raise Refusal(closing.trouble)
    print(f"{arguments.out}: {closing.written} rows")
    return 0


def _verify_record(directory: Path) -> int:
    """Every segment, a line each; the first damaged one is the error, with what to do."""
    from replay.capture import CaptureError, verify
    from replay.seal import ending
    from replay.segments import segments

    damage: list[str] = []
    for segment in segments(directory):
        try:
            found = verify(segment.path)
            sealed = ending(segment.path) if segment.sealed else None
        except CaptureError as error:
            damage.append(str(error))
            continue
        print(found.words()[0])
        if not found.sound:
            damage.append(damaged(segment.path, found.problems))
        elif segment.sealed and (sealed is None or not sealed.intact):
            damage.append(f"{segment.path}: its summary does not belong to its lines")
    if damage:
        more = f" (and {len(damage) - 1} more)" if len(damage) > 1 else ""
        raise Refusal(damage[0] + more)
    return 0


def _export(arguments: argparse.Namespace) -> int:
    from replay.capture import open_capture
    from replay.csv_export import export_csv
    from replay.parquet_export import export_parquet

    days_in_order(arguments)
    if arguments.file.is_dir():
        from monitor.history.spans import span_of

        span = span_of(arguments.file, arguments.first, arguments.last)
        inputs = span.inputs
        if len(span.grades) > 1 or "full" not in span.grades:
            print("some of these days are kept by the minute or by their sums alone")
        if span.undated:
            print(f"left out: {span.undated} segments that were never dated")
    else:
        if arguments.first is not None or arguments.last is not None:
            raise Refusal("--from and --to choose days of a record; name its directory")
        inputs = open_capture(arguments.file).inputs
    if arguments.out.suffix == ".parquet":
        made = export_parquet(inputs, arguments.out)
    else:
        made = export_csv(inputs, arguments.out, arguments.of, arguments.source)
    print(f"{arguments.out}: {made.rows} rows of {','.join(made.columns)}")
    if made.left_out:
        print(f"left out: {made.left_out} readings of other things")
    return 0


def _reindex(arguments: argparse.Namespace) -> int:
    """The index anew; lines on stderr for what could not be taken whole."""
    from monitor.history.entries import reindex

    rows = reindex(_record(arguments.file), lambda line: print(line, file=sys.stderr))
    counts = ", ".join(f"{len(found)} {table}" for table, found in rows.items())
    print(f"{arguments.file}: {counts}")
    return 0


def _pin(arguments: argparse.Namespace) -> int:
    from monitor.history.spans import pin_days

    if not arguments.whom or not arguments.whom.strip():
        raise Refusal("pin: expected for whom, found nobody; add --for 'report of March'")
    last = arguments.last or arguments.first
    numbers = pin_days(_record(arguments.file), arguments.first, last, arguments.whom)
    print(f"kept as they are for {arguments.whom}: {_numbers(numbers)}")
    return 0


def _unpin(arguments: argparse.Namespace) -> int:
    from monitor.history.spans import unpin_days

    last = arguments.last or arguments.first
    numbers = unpin_days(_record(arguments.file), arguments.first, last, arguments.whom)
    print(f"let go: {_numbers(numbers) or 'none was kept'}")
    return 0


def _record(directory: Path) -> Path:
    if not directory.is_dir():
        raise Refusal(f"{directory}: expected the directory of a record, found none")
    return directory


def _numbers(numbers: tuple[int, ...]) -> str:
    return ", ".join(f"{number:05d}" for number in numbers)


_ACTIONS = {
    "verify": _verify,
    "repair": _repair,
    "import": _import,
    "export": _export,
    "reindex": _reindex,
    "pin": _pin,
    "unpin": _unpin,
}
