"""A span of days of the record: what was recorded then, dated; and keeping it for somebody."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from adapters.reading import Input, Tick
from monitor.history.days import read_segments
from replay.reader import open_capture
from replay.sealed_lines import CaptureError
from replay.segments import Segment, pin, segments, unpin


@dataclass(frozen=True, slots=True)
class Span:
    """The segments of some days, each with the offset that dates it; `undated` others may be of
    those days, but nobody knows."""

    directory: Path
    held: tuple[tuple[Segment, float], ...]
    grades: frozenset[str]
    undated: int

    def inputs(self) -> Iterator[Input]:
        """Everything that entered, at Unix time."""
        for segment, offset in self.held:
            for value in open_capture(segment.path).inputs():
                if isinstance(value, Tick) and value.wall_offset is not None:
                    continue  # says how to date what is dated already
                yield dataclasses.replace(value, seconds=value.seconds + offset)


def span_of(directory: Path, first: str | None, last: str | None) -> Span:
    """The days from `first` to `last`, both included; CaptureError where there is none."""
    files = {segment.number: segment for segment in segments(directory)}
    known = [held for held in read_segments(directory) if held.number in files]
    chosen = [
        held
        for held in known
        if held.day is not None
        and (first is None or held.day >= first)
        and (last is None or held.day <= last)
    ]
    if not chosen:
        days = [held.day for held in known if held.day is not None]
        there = f"from {min(days)} to {max(days)}" if days else "none that are dated"
        raise CaptureError(
            f"{directory}: expected recorded days from {first or 'the first'} to "
            f"{last or 'the last'}, found {there}; choose among those"
        )
    return Span(
        directory,
        tuple((files[held.number], held.wall_offset or 0.0) for held in chosen),
        frozenset(held.grade for held in chosen),
        sum(held.day is None for held in known),
    )


def pin_days(directory: Path, first: str, last: str, whom: str) -> tuple[int, ...]:
    """Keep some days as they are recorded, for somebody; the numbers of the segments."""
    held = span_of(directory, first, last).held
    for segment, _ in held:
        pin(directory, segment.number, whom)
    return tuple(segment.number for segment, _ in held)


def unpin_days(directory: Path, first: str, last: str, whom: str | None) -> tuple[int, ...]:
    """Let go of them; `whom` None lets go of whatever anybody wanted. Those that were let go."""
    held = span_of(directory, first, last).held
    return tuple(segment.number for segment, _ in held if unpin(directory, segment.number, whom))
