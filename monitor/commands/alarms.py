"""`ampwright alarms`: the alarms of a capture or a period of it, and how good they are."""

from __future__ import annotations

import argparse
import csv
import dataclasses
import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from monitor.commands.options import add_columns
from monitor.mishaps import Refusal

if TYPE_CHECKING:
    from monitor.alarm_quality import Quality, Record
    from monitor.moments import Span
    from monitor.recorded import Recorded

_MOMENT = "5400 (its own seconds), 90m or 33:05:00 from its start, 20:40, a date and time"


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", type=Path, metavar="CAPTURE-OR-CSV")
    parser.add_argument(
        "--quality", action="store_true", help="the report in the terms of EEMUA 191"
    )
    parser.add_argument("--from", dest="start", default="start", metavar="TIME", help=_MOMENT)
    parser.add_argument("--to", dest="end", default="end", metavar="TIME", help="the same, or end")
    shapes = parser.add_mutually_exclusive_group()
    shapes.add_argument("--json", action="store_true", help="as one JSON object")
    shapes.add_argument("--csv", action="store_true", help="as a table")
    parser.add_argument(
        "--bank", type=Path, metavar="FILE", help="TOML of the bank, for a table or to override"
    )
    add_columns(parser)


def run(arguments: argparse.Namespace) -> int:
    from monitor.alarm_quality import judge
    from monitor.moments import span_of
    from monitor.recorded import open_recorded
    from monitor.words.alarm_quality import listed, reported
    from monitor.words.figures import Clock

    recorded = open_recorded(arguments.file, arguments.bank, arguments.columns)
    span = span_of(recorded.recording)
    start = _moment("--from", arguments.start, span)
    end = _moment("--to", arguments.end, span)
    if not start < end:
        raise Refusal(f"--to: expected a time after {start:g} s (--from), found {end:g} s")
    records = told(recorded, end)
    quality = judge(records, start, end)
    shown = [r for r in records if r.over is None or r.over >= start]
    if arguments.json:
        print(json.dumps(_document(shown, quality, span), ensure_ascii=False, indent=1))
    elif arguments.csv:
        _table(_figures(quality) if arguments.quality else _rows(shown))
    else:
        clock = Clock(span.wall_offset)
        lines = reported(quality) if arguments.quality else listed(records, start, end, clock)
        for line in lines:
            print(line)
    problems = getattr(recorded.recording, "problems", None)
    if problems is not None and not problems.lossless:
        from monitor.commands.capture import damaged

        raise Refusal(damaged(arguments.file, problems))
    return 0


def told(recorded: Recorded, end: float) -> list[Record]:
    """Every alarm from the recording's beginning up to `end`: what was learned before counts."""
    from monitor.alarm_quality import Tally
    from monitor.engine.engine import Engine

    engine, tally = Engine(recorded.site, recorded.state, looks_ahead=False), Tally()
    for value in recorded.recording.inputs():
        if value.seconds >= end:
            break
        for event in engine.step(value):
            tally.add(event)
    return tally.records


def _moment(option: str, text: str, span: Span) -> float:
    from monitor.moments import moment

    try:
        return moment(text, span)
    except Refusal as refusal:
        raise Refusal(str(refusal).replace("--at", option, 1)) from None


def _document(records: Iterable[Record], quality: Quality, span: Span) -> dict[str, Any]:
    from monitor.alarm_quality import BENCHMARKS

    figures = dataclasses.asdict(quality)
    figures["mix"] = quality.mix and {p.name.lower(): share for p, share in quality.mix.items()}
    for actor in figures["worst"]:
        actor["priority"] = actor["priority"].name.lower()
    return {
        "wall_offset": span.wall_offset,
        "alarms": [
            {**dataclasses.asdict(record), "priority": record.priority.name.lower()}
            for record in records
        ],
        "quality": figures,
        "benchmarks": {name: each._asdict() for name, each in BENCHMARKS.items()},
    }


def _rows(records: Iterable[Record]) -> Iterable[tuple[object, ...]]:
    yield ("raised_s", "over_s", "acknowledged_s", "priority", "alarm", "words")
    for record in records:
        yield (
            record.raised,
            record.over,
            record.acknowledged,
            record.priority.name.lower(),
            record.key,
            record.words,
        )


def _figures(quality: Quality) -> Iterable[tuple[object, ...]]:
    from monitor.alarm_quality import BENCHMARKS, GUIDELINE

    yield ("figure", "value", "at_most", "source")
    for name, benchmark in BENCHMARKS.items():
        yield (name, quality.figure(name), benchmark.at_most, benchmark.source)
    for priority, share in GUIDELINE.items():
        here = "" if quality.mix is None else quality.mix[priority]
        yield (f"share_{priority.name.lower()}", here, share, "EEMUA 191 (from memory)")
    for actor in quality.worst:
        yield (f"worst {actor.key}", actor.times, "", f"{actor.share:.3f} of all")


def _table(rows: Iterable[tuple[object, ...]]) -> None:
    csv.writer(sys.stdout, lineterminator="\n").writerows(rows)
