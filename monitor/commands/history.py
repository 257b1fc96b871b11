"""`ampwright history`: the record by days, charge cycles, months or segments."""

from __future__ import annotations

import argparse
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.commands.options import add_config, add_days, days_in_order, record_of

if TYPE_CHECKING:
    from monitor.config_history import History


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "what",
        nargs="?",
        choices=tuple(_TABLES),
        default="days",
        help="days (the default), cycles, health (by month), log (entered by hand) or segments",
    )
    parser.add_argument(
        "--directory", type=Path, metavar="DIR", help="the record (else that of the configuration)"
    )
    add_config(parser)
    add_days(parser)
    parser.add_argument("--bank", metavar="BANK", help="only this bank")


def run(arguments: argparse.Namespace) -> int:
    from monitor.words.days import zone_name

    days_in_order(arguments)
    history = record_of(arguments)
    columns = shutil.get_terminal_size().columns
    lines = _TABLES[arguments.what](history, arguments, columns)
    for line in lines:
        print(line)
    if lines != [_NOTHING]:
        print(f"times in {zone_name(history.zone_seconds)} ({history.zone_from})")
    return 0


def _days(history: History, arguments: argparse.Namespace, columns: int) -> list[str]:
    from monitor.history.days import read_days
    from monitor.words.history import day_lines

    days = [
        day
        for day in read_days(_directory(history))
        if _wanted(arguments, day.bank, day.day) and (day.seen_seconds or day.stage_seconds)
    ]
    return day_lines(days, columns) or [_NOTHING]


def _cycles(history: History, arguments: argparse.Namespace, columns: int) -> list[str]:
    from monitor.history.days import read_cycles
    from monitor.history.index import day_of
    from monitor.words.history import cycle_lines

    zone = history.zone_seconds
    cycles = [
        cycle
        for cycle in read_cycles(_directory(history))
        if _wanted(
            arguments, cycle.bank, None if cycle.ended is None else day_of(cycle.ended, zone)
        )
    ]
    return cycle_lines(cycles, columns, zone) or [_NOTHING]


def _health(history: History, arguments: argparse.Namespace, columns: int) -> list[str]:
    from monitor.history.days import months, read_cycles, read_days
    from monitor.words.history import month_lines

    directory = _directory(history)
    days = [day for day in read_days(directory) if _wanted(arguments, day.bank, day.day)]
    held = months(days, read_cycles(directory), history.zone_seconds)
    return month_lines(held, columns) or [_NOTHING]


def _segments(history: History, arguments: argparse.Namespace, columns: int) -> list[str]:
    from monitor.history.days import read_segments
    from monitor.words.history import segment_lines
    from replay.segments import pins, segments

    directory = _directory(history)
    files = {segment.number: segment.path for segment in segments(directory)}
    rows = [
        (held, files[held.number].stat().st_size, pins(directory, held.number))
        for held in read_segments(directory)
        if held.number in files and _wanted(arguments, None, held.day)
    ]
    return segment_lines(rows, columns) or [_NOTHING]


def _log(history: History, arguments: argparse.Namespace, columns: int) -> list[str]:
    from monitor.history.log import read_log
    from monitor.words.history import log_lines

    zone = history.zone_seconds
    log = [
        entry
        for entry in read_log(_directory(history), zone)
        if _wanted(arguments, entry.bank or None, entry.day)
    ]
    return log_lines(log, columns, zone) or [_NOTHING]


def _directory(history: History) -> Path:
    assert history.directory is not None
    return history.directory


def _wanted(arguments: argparse.Namespace, bank: str | None, day: str | None) -> bool:
    if arguments.bank is not None and bank is not None and bank != arguments.bank:
        return False
    if arguments.first is None and arguments.last is None:
        return True
    return day is not None and (arguments.first or day) <= day <= (arguments.last or day)


_NOTHING = "nothing recorded there yet"
_TABLES = {"days": _days, "cycles": _cycles, "health": _health, "segments": _segments, "log": _log}
