"""Going on after a stop, a kill or a power cut: nothing that was acknowledged is lost.

What was learned is kept every ten minutes; the capture has every row since. So whoever starts reads
the kept state and then the rows behind it, into the engine and the book, and stands where the last
row on disk stood. Where the state is of another capture, or lost, the state in the segment's own
header and all of its rows give the same.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from adapters.adapter import Frame
from monitor.bank import Site
from monitor.config import Config, ConfigError, parse_config
from monitor.engine.engine import Engine
from monitor.engine.whose_state import StateError
from monitor.history.book import Book
from monitor.history.entries import carry_of
from monitor.kept_state import KeptState
from monitor.showing import Showing
from replay.header import Header
from replay.reader import Capture, open_capture
from replay.sealed_lines import CaptureError
from replay.segments import Segment
from replay.tail import Tail, find_tail


@dataclass(frozen=True, slots=True)
class TakenUp:
    """An engine and a book that stand at the end of a capture; `earlier` events were known before.

    `exact`: playing the capture from its header gives this very state, so it may be gone on with.
    """

    showing: Showing
    book: Book
    header: Header
    tail: Tail
    exact: bool


#: A sealed segment is finished: all of it counts, and nothing is written behind it.
_SEALED: Final = Tail(0, False, sys.maxsize, 0, False)


def take_up(segment: Segment, kept: KeptState | None, config: Config) -> TakenUp:
    """Stand where a segment ends. CaptureError where it cannot be used at all, StateError where
    this engine cannot go on from its state."""
    capture = open_capture(segment.path)
    tail = _SEALED if segment.sealed else find_tail(segment.path)
    site = _site_of(capture.header, config)
    after, known = 0, True
    begun = _from_kept(site, segment, kept)
    if begun is not None and kept is not None and kept.recorded is not None:
        after = kept.recorded[1]
        known = after <= tail.last
    else:
        begun = _from_header(site, capture.header, kept)
    showing, book = begun
    play(capture, after, showing, book)
    return TakenUp(showing, book, capture.header, tail, tail.whole and known)


def _from_kept(site: Site, segment: Segment, kept: KeptState | None) -> tuple[Showing, Book] | None:
    if kept is None or kept.recorded is None or kept.book is None:
        return None
    if kept.recorded[0] != segment.path.name:
        return None
    try:
        showing, book = Showing(site, kept.engine, kept.events), Book(site)
        book.remember(kept.book)
    except (StateError, KeyError, TypeError, ValueError, AttributeError):
        return None
    return showing, book


def _from_header(site: Site, header: Header, kept: KeptState | None) -> tuple[Showing, Book]:
    state = dict(header.state) if header.state is not None else None
    showing = Showing(site, state)
    last = showing.ask(lambda engine: engine.journal.last)
    # the journal's end that was kept, as far as it is older than what is played now
    events = tuple(each for each in (kept.events if kept else ()) if each.number <= last)
    return Showing(site, state, events), Book(site, carry_of(header))


def _site_of(header: Header, config: Config) -> Site:
    """The site that the segment was recorded for: rows are played as they were understood."""
    if header.config == config.text:
        return config.site
    try:
        return parse_config(header.config, "the recorded configuration", header.descriptions).site
    except ConfigError:
        return config.site


def play(capture: Capture, after: int, showing: Showing, book: Book | None) -> None:
    """Take in every row numbered above `after`."""
    for value in capture.recorded(after):
        if isinstance(value, Frame):
            continue
        events = showing.step(value)
        if book is not None:
            book.take(value, events, showing.glance)


def play_behind(kept: KeptState, showing: Showing) -> None:
    """The rows of a single capture that a kept state has not taken in, if that is still there."""
    if kept.recorded is None:
        return
    path, after = Path(kept.recorded[0]), kept.recorded[1]
    if not path.is_absolute():
        return
    try:
        play(open_capture(path), after, showing, None)
    except CaptureError:
        return  # moved or broken since: what was learned later is learned again


def known_time(showing: Showing, kept: KeptState | None) -> tuple[float, float | None]:
    """Feed time of the newest input, and the wall time then as far as it is known."""

    def look(engine: Engine) -> tuple[float, float | None]:
        return engine.seconds or 0.0, engine.site_watch.wall_offset

    seconds, offset = showing.ask(look)
    if kept is not None:
        seconds = max(seconds, kept.seconds)
    if offset is not None:
        return seconds, seconds + offset
    return seconds, None if kept is None else kept.wall + (seconds - kept.seconds)


def newest(held: Iterable[Segment]) -> Segment | None:
    """The newest segment that can be used at all: the last one may have died with its header."""
    for segment in reversed(list(held)):
        try:
            open_capture(segment.path)
        except CaptureError:
            continue
        return segment
    return None


def same_start(header: Header, boot: str) -> float | None:
    """What makes the steady clock feed time, where the segment was begun in this very start of the
    machine; None where it was another."""
    said = header.segment or {}
    shift = said.get("shift")
    if not boot or said.get("boot") != boot or not isinstance(shift, int | float):
        return None
    return float(shift)


def header_says(header: Header, config: Config, software: str) -> bool:
    """Whether the header would be the same now, so that the segment may be gone on with."""
    return (
        header.config == config.text
        and dict(header.descriptions) == dict(config.descriptions)
        and header.software == software
    )
