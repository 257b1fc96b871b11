"""Rows of a screen as an SVG picture.

Block and line signs become rectangles and text is held to its cells: the picture looks the same
with any font.
"""

from __future__ import annotations

import html
import itertools
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

from rich.segment import Segment
from rich.style import Style
from textual.color import Color

if TYPE_CHECKING:
    from textual.app import App

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
                f'textLength="{len(text) * _WIDE}">{html.escape(text, quote=False)}</text>'
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
            f"<title>{html.escape(title, quote=False)}</title>",
            f'<rect width="{width}" height="{height}" rx="10" fill="{paper}"/>',
            f'<g transform="translate({_FRAME} {_FRAME})" font-family="monospace" '
            f'font-size="{_FONT_SIZE}" shape-rendering="crispEdges">',
            *body,
            "</g>",
            "</svg>",
            "",
        ]
    )


def screen_rows(board: App[int]) -> list[list[Segment]]:
    """The segments of the screen now on top, row by row."""
    # Textual has no public way to the painted rows; this is the one place that knows.
    return [list(strip) for strip in board.screen._compositor.render_strips()]
