"""Text put into the room there is: whole words, and a figure never without its unit.

What does not fit has a briefer form, or ends in `...`; half a word or half a figure says something
else than the whole.
"""

from __future__ import annotations

import re
import textwrap
from typing import Final

from monitor.words.figures import UNITS

#: A unit stays with its figure.
_UNIT: Final = re.compile(rf"(?<=\d) (?=(?:{'|'.join(map(re.escape, UNITS))})(?!\w))")
_TIED: Final = "\u00a0"
_LEFT_OFF: Final = "..."
#: Characters of a name that tell it from others (our choice).
LEAST_NAME: Final = 6
#: The start of a figure that may go on, or whose unit comes after it.
_OPEN_FIGURE: Final = re.compile(r"(?:^|\s)[(<]?[-+±]?\d[\d.:]*$")


def wrapped(text: str, width: int, indent: str | None = None) -> list[str]:
    """`text` in rows of `width`, the later ones set in below it, by two blanks unless told."""
    if len(text) <= width:
        return [text]
    lead = text[: len(text) - len(text.lstrip())]
    later = f"{lead}  " if indent is None else indent
    rows = textwrap.wrap(
        _UNIT.sub(_TIED, text.strip()),
        max(width, len(later) + 4),
        initial_indent=lead,
        subsequent_indent=later,
    )
    return [row.replace(_TIED, " ") for row in rows]


def fitted(text: str, width: int, rows: int) -> str:
    """`text` wrapped into `rows` of `width`, ending in `...` where something was left off."""
    plain = " ".join(text.split())
    lines = wrapped(plain, max(width, 4), "") if plain else []
    if len(lines) > rows:
        lines = [*lines[: rows - 1], cut(" ".join(lines[rows - 1 :]), width)] if rows else []
    return "\n".join(lines)


def first_fitting(width: int, *forms: str) -> str:
    """The first of these that fits, else the last, cut."""
    return next((form for form in forms if len(form) <= width), cut(forms[-1], width))


def clipped(name: str, width: int) -> str:
    """A name in at most `width` characters: what is there of its beginning tells it from others."""
    if len(name) <= width:
        return name
    room = width - len(_LEFT_OFF)
    return name[:room] + _LEFT_OFF if room >= LEAST_NAME else name[: max(width, 0)]


def cut(text: str, width: int) -> str:
    """`text` in at most `width` characters, ending in `...` after a whole word where something was
    left off. A single word that is too long is cut where the room ends."""
    if len(text) <= width:
        return text
    room = width - len(_LEFT_OFF)
    if room <= 0:
        return text[: max(width, 0)]
    kept = text[:room]
    if text[room] != " ":
        kept = kept[: kept.rfind(" ")] if " " in kept.strip() else kept
    figure = _OPEN_FIGURE.search(kept)
    if figure is not None and figure.start() > 0:
        kept = kept[: figure.start()]
    return kept.rstrip(" ,;:(") + _LEFT_OFF
