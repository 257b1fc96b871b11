"""`ampwright capture`: look after capture files."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.commands.options import add_columns
from monitor.mishaps import Refusal

if TYPE_CHECKING:
    from replay.capture import Problems


def arguments(parser: argparse.ArgumentParser) -> None:
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    verify = actions.add_parser("verify", help="count what is sound and what is not")
    verify.add_argument("file", type=Path, metavar="CAPTURE")
    repair = actions.add_parser("repair", help="save every sound row into a new capture")
    repair.add_argument("file", type=Path, metavar="CAPTURE")
    repair.add_argument("out", type=Path, metavar="NEW")
    take = actions.add_parser("import", help="make a capture from a CSV table")
    take.add_argument("file", type=Path, metavar="CSV")
    take.add_argument("out", type=Path, metavar="NEW")
    take.add_argument("--bank", type=Path, metavar="FILE", required=True, help="TOML of the bank")
    add_columns(take)
    give = actions.add_parser("export", help="make a CSV table from a capture")
    give.add_argument("file", type=Path, metavar="CAPTURE")
    give.add_argument("out", type=Path, metavar="NEW")
    give.add_argument("--of", metavar="BANK", help="the bank, where there are several")
    give.add_argument("--source", metavar="SOURCE", help="the source, where there are several")


def run(arguments: argparse.Namespace) -> int:
    status: int = _ACTIONS[arguments.action](arguments)
    return status


def _verify(arguments: argparse.Namespace) -> int:
    """What the capture holds, on stdout; a damaged one is an error too, so a script can tell."""
    from replay.capture import verify

    found = verify(arguments.file)
    for line in found.words():
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


def _export(arguments: argparse.Namespace) -> int:
    from replay.capture import open_capture
    from replay.csv_export import export_csv

    capture = open_capture(arguments.file)
    made = export_csv(capture.inputs, arguments.out, arguments.of, arguments.source)
    print(f"{arguments.out}: {made.rows} rows of {','.join(made.columns)}")
    if made.left_out:
        print(f"left out: {made.left_out} readings of other things")
    return 0


_ACTIONS = {"verify": _verify, "repair": _repair, "import": _import, "export": _export}
