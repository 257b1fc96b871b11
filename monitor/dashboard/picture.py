"""A picture of the screen as SVG, made by the program itself.

`python -m monitor.dashboard.picture OUT.svg` draws a shipped recording at a fixed moment, so that
the same version makes the same file, byte for byte. Block and line signs become rectangles
and text is held to its cells: the picture looks the same with any font.
"""

from __future__ import annotations

import argparse
import asyncio
import dataclasses
import itertools
import sys
from collections.abc import AsyncIterator, Iterable, Sequence
from datetime import UTC, timedelta, timezone, tzinfo
from pathlib import Path
from typing import Final, NamedTuple
from xml.sax.saxutils import escape

from rich.segment import Segment
from rich.style import Style
from textual.color import Color

from adapters.reading import Command
from monitor.bank import Site
from monitor.dashboard.app import Dashboard
from monitor.engine.explain import Part
from monitor.engine.snapshot import Event, Snapshot
from monitor.feed import Feed, PlayerControls
from monitor.recorded import open_recorded
from monitor.showing import Showing
from monitor.trend import Trend

SIZE: Final = (100, 30)

# What the picture shows unless told otherwise: a recording that comes with the program, a sunny
# forenoon some hours into it, by the clock of the place where it plays, alarms of before seen.
_RECORDING: Final = Path(__file__).parents[2] / "replay" / "captures" / "pinewater.capture.gz"
_HOURS: Final = 45.7
_ZONE: Final = timezone(timedelta(hours=-7))
_KEYS: Final = "akkkkkx"

# A cell in the picture's units, and the frame around it all.
_WIDE: Final = 10
_HIGH: Final = 20
_FRAME: Final = 16
_BASELINE: Final = 15
_FONT_SIZE: Final = 16

# Signs drawn as rectangles: (left, top, width, height) as fractions of a cell.
_SHAPES: Final[dict[str, tuple[float, float, float, float]]] = {
    **{sign: (0.0, 1 - n / 8, 1.0, n / 8) for n, sign in enumerate("▁▂▃▄▅▆▇█", start=1)},
    "▀": (0.0, 0.0, 1.0, 0.5),
    "▏": (0.0, 0.0, 0.125, 1.0),
    "━": (0.0, 0.42, 1.0, 0.16),
    "─": (0.0, 0.475, 1.0, 0.05),
}


class _Run(NamedTuple):
    """Signs in one row and one style."""

    column: int
    text: str
    ink: str
    paper: str
    bold: bool


def _hex(style: Style, name: str, otherwise: str) -> str:
    colour = getattr(style, name)
    if colour is None or colour.is_default:
        return otherwise
    return Color.from_rich_color(colour).hex6.lower()


def _run(column: int, segment: Segment, ink: str, paper: str) -> _Run:
    style = segment.style or Style()
    front, back = _hex(style, "color", ink), _hex(style, "bgcolor", paper)
    if style.reverse:
        front, back = back, front
    return _Run(column, segment.text, front, back, bool(style.bold))


def _runs(row: Iterable[Segment], ink: str, paper: str) -> list[_Run]:
    runs, column = [], 0
    for segment in row:
        runs.append(_run(column, segment, ink, paper))
        column += segment.cell_length
    return runs


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _rectangle(left: float, top: float, width: float, height: float) -> str:
    left, top, width, height = (round(value, 2) for value in (left, top, width, height))
    return f"M{_number(left)} {_number(top)}h{_number(width)}v{_number(height)}h-{_number(width)}z"


def _drawn(run: _Run, y: int, paper: str) -> tuple[dict[str, list[str]], list[str]]:
    """Rectangles by colour, and pieces of text, of one run."""
    shapes: dict[str, list[str]] = {}
    words: list[str] = []
    if run.paper != paper:
        whole = _rectangle(run.column * _WIDE, y, len(run.text) * _WIDE, _HIGH)
        shapes.setdefault(run.paper, []).append(whole)
    column = run.column
    for sign, group in itertools.groupby(run.text, key=lambda s: s if s in _SHAPES else s == " "):
        text = "".join(group)
        if isinstance(sign, str):
            left, top, width, height = _SHAPES[sign]
            # Whole cells run together; a part of a cell stands in each of them.
            pieces = [(0, len(text))] if width == 1.0 else [(n, width) for n in range(len(text))]
            for place, reach in pieces:
                x = (column + place + left) * _WIDE
                shape = _rectangle(x, y + top * _HIGH, reach * _WIDE, height * _HIGH)
                shapes.setdefault(run.ink, []).append(shape)
        elif not sign:
            weight = ' font-weight="700"' if run.bold else ""
            words.append(
                f'<text x="{column * _WIDE}" y="{y + _BASELINE}" fill="{run.ink}"{weight} '
                f'textLength="{len(text) * _WIDE}">{escape(text)}</text>'
            )
        column += len(text)
    return shapes, words


def svg(rows: Sequence[Iterable[Segment]], columns: int, ink: str, paper: str, title: str) -> str:
    """The rows of a screen as a picture; `title` is what a screen reader says of it."""
    body = []
    for index, row in enumerate(rows):
        for run in _runs(row, ink, paper):
            shapes, words = _drawn(run, index * _HIGH, paper)
            body += [f'<path fill="{fill}" d="{"".join(d)}"/>' for fill, d in shapes.items()]
            body += words
    width, height = columns * _WIDE + 2 * _FRAME, len(rows) * _HIGH + 2 * _FRAME
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img">',
            f"<title>{escape(title)}</title>",
            f'<rect width="{width}" height="{height}" rx="10" fill="{paper}"/>',
            f'<g transform="translate({_FRAME} {_FRAME})" font-family="monospace" '
            f'font-size="{_FONT_SIZE}" shape-rendering="crispEdges">',
            *body,
            "</g>",
            "</svg>",
            "",
        ]
    )


def screen_rows(board: Dashboard) -> list[list[Segment]]:
    """The segments of the screen now on top, row by row."""
    # Textual has no public way to the painted rows; this is the one place that knows.
    return [list(strip) for strip in board.screen._compositor.render_strips()]


async def picture(
    feed: Feed,
    *,
    size: tuple[int, int] = SIZE,
    zone: tzinfo = UTC,
    theme: str | None = None,
    keys: str = "",
    title: str = "The Ampwright screen",
) -> str:
    """The screen of `feed` after its first snapshot, and after `keys` were pressed."""
    board = Dashboard(feed, zone=zone, theme=theme)
    async with board.run_test(size=size) as pilot:
        while board.snapshot is None:
            await pilot.pause()
        await pilot.pause()
        for key in keys:
            await pilot.press(key)
            await pilot.pause()
        variables = board.theme_variables
        ink, paper = variables["foreground"].lower(), variables["background"].lower()
        return svg(screen_rows(board), size[0], ink, paper, title)


class Still:
    """One moment of a recording as a feed: everything up to it, then only what keys command."""

    player: PlayerControls | None = None

    def __init__(self, path: Path, hours: float) -> None:
        recorded = open_recorded(path)
        self.site: Site = recorded.site
        self._showing = Showing(recorded.site, recorded.state)
        self._told = asyncio.Event()
        self._seconds = end = recorded.recording.start + hours * 3600
        for value in itertools.takewhile(lambda v: v.seconds <= end, recorded.recording.inputs()):
            self._showing.step(value)

    async def start(self) -> None:
        """Nothing to open."""

    async def stop(self) -> None:
        """Nothing to close."""

    async def snapshots(self) -> AsyncIterator[Snapshot]:
        while True:
            yield self._showing.snapshot()
            self._told.clear()
            await self._told.wait()

    def events(self, since: int) -> tuple[Event, ...]:
        return self._showing.events(since)

    def send(self, command: Command) -> None:
        self._showing.step(dataclasses.replace(command, seconds=self._seconds))
        self._told.set()

    def trend(self, bank: str, window_seconds: float, columns: int) -> Trend:
        return self._showing.trend(bank, window_seconds, columns)

    def explain(self, bank: str) -> tuple[Part, ...]:
        return self._showing.explain(bank)


def main(argv: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m monitor.dashboard.picture")
    parser.add_argument("out", type=Path, help="the SVG file to write")
    parser.add_argument("--recording", type=Path, default=_RECORDING)
    parser.add_argument("--hours", type=float, default=_HOURS, help="how far into the recording")
    parser.add_argument("--theme", help="colours other than the usual ones")
    parser.add_argument("--keys", default=_KEYS, help="keys to press first")
    chosen = parser.parse_args(argv)
    feed = Still(chosen.recording, chosen.hours)
    drawn = asyncio.run(picture(feed, zone=_ZONE, theme=chosen.theme, keys=chosen.keys))
    chosen.out.parent.mkdir(parents=True, exist_ok=True)
    chosen.out.write_text(drawn, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
