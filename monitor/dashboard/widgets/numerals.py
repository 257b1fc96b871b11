"""Large numerals made of half blocks: three rows each, or a multiple of them.

The shapes are a plain stroke alphabet of four by six dots, two dots to a character cell. A
numeral row is one string, so that a widget can draw it in one style.
"""

from __future__ import annotations

from typing import Final

HEIGHT: Final = 3
_DOT_ROWS: Final = 6

# Six rows of dots for each sign, `#` for ink.
_SHAPES: Final[dict[str, tuple[str, ...]]] = {
    "0": (".##.", "#..#", "#..#", "#..#", "#..#", ".##."),
    "1": (".#.", "##.", ".#.", ".#.", ".#.", "###"),
    "2": (".##.", "#..#", "...#", "..#.", ".#..", "####"),
    "3": ("###.", "...#", ".##.", "...#", "...#", "###."),
    "4": ("#..#", "#..#", "#..#", "####", "...#", "...#"),
    "5": ("####", "#...", "###.", "...#", "...#", "###."),
    "6": (".##.", "#...", "###.", "#..#", "#..#", ".##."),
    "7": ("####", "...#", "..#.", "..#.", ".#..", ".#.."),
    "8": (".##.", "#..#", ".##.", "#..#", "#..#", ".##."),
    "9": (".##.", "#..#", "#..#", ".###", "...#", ".##."),
    ".": (".", ".", ".", ".", ".", "#"),
    "+": ("...", "...", ".#.", "###", ".#.", "..."),
    "-": ("...", "...", "...", "###", "...", "..."),
    " ": ("..", "..", "..", "..", "..", ".."),
}

_CELLS: Final = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


def _dots(text: str, scale: int) -> list[str]:
    rows = [".".join(_SHAPES[sign][row] for sign in text if sign in _SHAPES) for row in range(6)]
    return ["".join(dot * scale for dot in row) for row in rows for _ in range(scale)]


def numeral_rows(text: str, scale: int = 1) -> list[str]:
    """The rows of `text`, all equally wide: three of them, times `scale`."""
    dots = _dots(text, scale)
    return [
        "".join(
            _CELLS[(upper == "#", lower == "#")]
            for upper, lower in zip(dots[row], dots[row + 1], strict=True)
        )
        for row in range(0, len(dots), 2)
    ]


def figure_rows(parts: tuple[tuple[str, str], ...], scale: int = 1) -> list[str]:
    """Large numbers, each followed by its small unit on the bottom row."""
    rows = [""] * (HEIGHT * scale)
    for index, (number, unit) in enumerate(parts):
        tail = f" {unit}" if unit else ""
        gap = "  " if index else ""
        for row, ink in enumerate(numeral_rows(number, scale)):
            last = row == len(rows) - 1
            rows[row] += gap + ink + (tail if last else " " * len(tail))
    return rows


def figure_width(parts: tuple[tuple[str, str], ...], scale: int = 1) -> int:
    return len(figure_rows(parts, scale)[0]) if parts else 0
