"""`ampwright replay`: play a capture or a table on the screen, or work it out into tables."""

from __future__ import annotations

import argparse
import contextlib
import math
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from monitor.commands.options import add_columns, add_looks, on_a_terminal, rate
from monitor.mishaps import Refusal

if TYPE_CHECKING:
    from monitor.playthrough import Passed
    from monitor.recorded import Recorded


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", type=Path, metavar="CAPTURE-OR-CSV")
    parser.add_argument("--rate", type=rate, metavar="N", help="recorded seconds a second, or max")
    parser.add_argument(
        "--table", type=Path, metavar="FILE", help="write stage, charge and time to full as CSV"
    )
    parser.add_argument(
        "--events", type=Path, metavar="FILE", help="write what happened, a JSON object a line"
    )
    parser.add_argument(
        "--bank", type=Path, metavar="FILE", help="TOML of the bank, for a table or to override"
    )
    parser.add_argument(
        "--of", metavar="NAME", help="the bank of the table, where there are several"
    )
    add_columns(parser)
    parser.add_argument("--headless", action="store_true", help="no screen, a summary at the end")
    add_looks(parser)


def run(arguments: argparse.Namespace) -> int:
    from monitor.commands.at_once import loading

    with loading():
        from monitor.recorded import open_recorded

        recorded = open_recorded(arguments.file, arguments.bank, arguments.columns)
    tables = arguments.table is not None or arguments.events is not None
    headless = arguments.headless or tables or not on_a_terminal()
    from monitor.commands.screens import check_theme, play

    if headless and (tables or not arguments.plain):
        check_theme(arguments)
        return _work_out(arguments, recorded)
    return play(recorded, arguments)


def _work_out(arguments: argparse.Namespace, recorded: Recorded) -> int:
    """Everything through the engine into the tables asked for, then a summary."""
    from monitor.engine.engine import Engine
    from monitor.playthrough import paced, play_through

    recording = recorded.recording
    bank = _bank(arguments.of, recorded)
    began = time.monotonic()
    with contextlib.ExitStack() as open_files:
        table = open_files.enter_context(_written(arguments.table))
        events = open_files.enter_context(_written(arguments.events))
        every = open_files.enter_context(_progress(recording.start, recording.end))
        pace = arguments.rate if arguments.rate is not None else math.inf
        passed = play_through(
            paced(recording.inputs(), pace),
            Engine(recorded.site, recorded.state),
            bank,
            table=table,
            events=events,
            every=every,
        )
    to_stdout = Path("-") in (arguments.table, arguments.events)
    for line in _summary(arguments, recorded, bank, passed, time.monotonic() - began):
        print(line, file=sys.stderr if to_stdout else sys.stdout)
    problems = getattr(recording, "problems", None)
    if problems is not None and not problems.lossless:
        from monitor.commands.capture import damaged

        raise Refusal(damaged(arguments.file, problems))
    return 0


def _bank(asked: str | None, recorded: Recorded) -> str:
    names = [bank.id for bank in recorded.site.banks]
    if asked is not None and asked not in names:
        raise Refusal(
            f'--of: expected a bank of the recording ({", ".join(names)}), found "{asked}"'
        )
    return asked or names[0]


@contextlib.contextmanager
def _written(path: Path | None) -> Iterator[TextIO | None]:
    """A file to write into that only takes its name when it is complete."""
    if path is None:
        yield None
        return
    if str(path) == "-":
        yield sys.stdout
        return
    if not path.is_file() and path.exists():
        with path.open("w", encoding="utf-8", newline="") as device:
            yield device
        return
    beside = path.with_name(path.name + ".part")
    try:
        with beside.open("w", encoding="utf-8", newline="") as file:
            yield file
        beside.replace(path)
    except BaseException as error:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)
        if isinstance(error, OSError) and error.filename == str(beside):
            # A person knows the name that he gave, not the one beside it.
            error.filename = str(path)
        raise


@contextlib.contextmanager
def _progress(start: float, end: float) -> Iterator[Callable[[float], None] | None]:
    """A bar on stderr where that is a terminal."""
    if not sys.stderr.isatty() or end <= start:
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TimeRemainingColumn

    bar = Progress(
        "replay",
        BarColumn(),
        TaskProgressColumn(),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    with bar:
        task = bar.add_task("replay", total=end - start)
        yield lambda seconds: bar.update(task, completed=seconds - start)


def _summary(
    arguments: argparse.Namespace, recorded: Recorded, bank: str, passed: Passed, took: float
) -> Iterator[str]:
    hours = (passed.last_seconds - (passed.first_seconds or 0.0)) / 3600
    pace = passed.readings / took if took > 0 else 0.0
    yield (
        f"{recorded.recording.title}: {passed.readings} readings over {hours:.1f} h "
        f"in {took:.1f} s ({pace:.0f} readings/s)"
    )
    counted = ", ".join(f"{count} {kind.value}" for kind, count in sorted(passed.events.items()))
    yield f"events: {counted or 'none'}"
    if arguments.table is not None:
        yield f"{arguments.table}: {passed.rows} rows of bank {bank}"
    if arguments.events is not None:
        yield f"{arguments.events}: {passed.events.total()} events"
