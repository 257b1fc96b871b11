"""`ampwright explain`: the whole chain behind one moment of a capture."""

from __future__ import annotations

import argparse
import textwrap
from pathlib import Path

from monitor.commands.options import add_columns
from monitor.commands.plan import bank_named
from monitor.mishaps import Refusal

_COLUMNS = 100


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", type=Path, metavar="CAPTURE-OR-CSV")
    parser.add_argument(
        "--at",
        default="end",
        metavar="TIME",
        help="5400 (its own seconds), 90m or 33:05:00 from its start, 20:40, a date and time, end",
    )
    parser.add_argument(
        "--bank", type=Path, metavar="FILE", help="TOML of the bank, for a table or to override"
    )
    parser.add_argument("--of", metavar="NAME", help="the bank, where there are several")
    add_columns(parser)


def run(arguments: argparse.Namespace) -> int:
    from monitor.engine.explain import chain
    from monitor.moments import engine_at, moment, moment_words, span_of
    from monitor.recorded import open_recorded
    from monitor.words.explained import explained
    from monitor.words.figures import Clock

    recorded = open_recorded(arguments.file, arguments.bank, arguments.columns)
    bank = bank_named(arguments.of, recorded.site)
    span = span_of(recorded.recording)
    at = moment(arguments.at, span)
    engine = engine_at(recorded, at)
    snapshot = engine.snapshot()
    view = next(each for each in snapshot.banks if each.id == bank)
    print(moment_words(at, span))
    for section in explained(snapshot, view, chain(engine, bank), Clock(snapshot.wall_offset)):
        print()
        if section.heading:
            print(section.heading)
        for line in section.lines:
            print(_wrapped(line))
    problems = getattr(recorded.recording, "problems", None)
    if problems is not None and not problems.lossless:
        from monitor.commands.capture import damaged

        raise Refusal(damaged(arguments.file, problems))
    return 0


def _wrapped(line: str) -> str:
    """In lines that a terminal shows whole; columns that line up stay as they are."""
    indent = "  " + line[: len(line) - len(line.lstrip())]
    if len(line) + 2 <= _COLUMNS:
        return "  " + line
    return textwrap.fill(
        line.strip(), _COLUMNS, initial_indent=indent, subsequent_indent=indent + "  "
    )
