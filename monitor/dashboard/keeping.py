"""A screen kept: copied as text, or saved as text and as a picture."""

from __future__ import annotations

from datetime import datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Final

from monitor.dashboard.svg import screen_rows, svg
from monitor.words.texts import PICTURE_TITLE, no_free_name

if TYPE_CHECKING:
    from textual.app import App

#: As many names are tried before giving up: a screen a second for a minute (our choice).
_MOST_NAMES: Final = 60

#: Ink and paper of a picture where the colours are the terminal's: light on dark (our choice).
TERMINAL: Final = ("#d0d0d0", "#101010")


def screen_text(board: App[int]) -> str:
    """The screen on top as plain text, without trailing blanks."""
    rows = ("".join(segment.text for segment in row).rstrip() for row in screen_rows(board))
    return "\n".join(rows).rstrip() + "\n"


def screen_svg(board: App[int], title: str = PICTURE_TITLE) -> str:
    """The same as a picture."""
    variables = board.theme_variables
    ink, paper = variables["foreground"].lower(), variables["background"].lower()
    if not (ink.startswith("#") and paper.startswith("#")):
        ink, paper = TERMINAL  # the terminal's own, which only the terminal knows
    return svg(screen_rows(board), board.size.width, ink, paper, title)


def save_screen(board: App[int], folder: Path, now: datetime) -> Path:
    """Write both beside each other; the name of the text file. OSError where that is refused."""
    text, picture = screen_text(board), screen_svg(board)
    for number in range(_MOST_NAMES):
        again = f"-{number + 1}" if number else ""
        path = folder / f"ampwright-{now:%Y-%m-%d-%H%M%S}{again}.txt"
        try:
            with path.open("x", encoding="utf-8") as file:
                file.write(text)
        except FileExistsError:
            continue
        path.with_suffix(".svg").write_text(picture, encoding="utf-8")
        return path
    raise FileExistsError(no_free_name(str(folder), now))


def wall_now(zone: tzinfo | None) -> datetime:
    """The time by which a file is named: the machine's, at the outermost edge."""
    return datetime.now(zone)
