"""How well ink stands out from paper: WCAG 2.2, with the colours that are really painted."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from rich.style import Style
from textual.color import Color

from monitor.dashboard.app import Dashboard
from monitor.dashboard.svg import screen_rows


def contrast(one: str, other: str) -> float:
    """WCAG 2.2 contrast ratio of two sRGB colours."""

    def luminance(colour: str) -> float:
        rgb = Color.parse(colour)
        linear = [
            c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4
            for c in (rgb.r / 255, rgb.g / 255, rgb.b / 255)
        ]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


class Painted(NamedTuple):
    """Signs in one style: where, and in which colours."""

    row: int
    text: str
    ink: str
    paper: str


def painted(board: Dashboard) -> Iterator[Painted]:
    """Everything on the screen on top that is not blank."""
    colours = board.theme_variables
    for number, row in enumerate(screen_rows(board)):
        for segment in row:
            if not segment.text.strip():
                continue
            style = segment.style or Style()
            ink = _hex(style.color, colours["foreground"])
            paper = _hex(style.bgcolor, colours["background"])
            if style.dim:  # as a terminal shows it: about half way to the paper (from memory)
                ink = Color.parse(ink).blend(Color.parse(paper), 0.5).hex6.lower()
            if style.reverse:
                ink, paper = paper, ink
            yield Painted(number, segment.text, ink, paper)


def _hex(colour: object, otherwise: str) -> str:
    if colour is None or colour.is_default:  # type: ignore[attr-defined]  # a colour of Rich
        return otherwise.lower()
    return Color.from_rich_color(colour).hex6.lower()  # type: ignore[arg-type]
