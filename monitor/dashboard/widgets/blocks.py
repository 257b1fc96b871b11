"""Filled columns as rows of text: block eighths, or plain letters where a font lacks them.

A row is one string in one style. Columns that hang from a line are drawn as the gap below them
and shown in reverse, since there are eighths for filling from below only.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import Final, NamedTuple


class Signs(StrEnum):
    """What charts are drawn with."""

    BLOCKS = "blocks"
    LETTERS = "letters"


class _Set(NamedTuple):
    up: str
    down: str
    gap: str
    thick: str
    thin: str
    bar: str
    pointer: str


_SETS: Final[dict[Signs, _Set]] = {
    Signs.BLOCKS: _Set(" ▁▂▃▄▅▆▇█", "█▇▆▅▄▃▂▁ ", "·", "━", "─", "▏", "▲"),
    Signs.LETTERS: _Set(" .:##", " ':##", "?", "=", "-", "|", "^"),
}


def hangs_in_reverse(signs: Signs) -> bool:
    """Whether rows from `hanging` must be shown in reverse."""
    return signs is Signs.BLOCKS


def _rows(levels: Sequence[float | None], rows: int, steps: str, blank: str, gap: str) -> list[str]:
    """Rows from the base outwards; `levels` in 0..1 of all rows together, None for no data."""
    full = len(steps) - 1
    drawn = []
    for row in range(rows):
        signs = []
        for level in levels:
            if level is None:
                signs.append(gap if row == 0 else blank)
                continue
            filled = round(min(max(level, 0.0), 1.0) * rows * full) - row * full
            signs.append(steps[min(max(filled, 0), full)])
        drawn.append("".join(signs))
    return drawn


def standing(levels: Sequence[float | None], rows: int, signs: Signs) -> list[str]:
    """Columns that stand on a line, top row first; none is quite invisible at its base."""
    kind = _SETS[signs]
    drawn = _rows(levels, rows, kind.up, " ", kind.gap)
    drawn[0] = drawn[0].replace(" ", kind.up[1])
    return drawn[::-1]


def hanging(levels: Sequence[float | None], rows: int, signs: Signs) -> list[str]:
    """Columns that hang from a line, top row first; see `hangs_in_reverse`."""
    kind = _SETS[signs]
    blank = kind.down[0]
    return _rows(levels, rows, kind.down, blank, blank)


def rule(share: float, width: int, signs: Signs) -> str:
    """A line as long as a rating, heavy as far as it is used."""
    kind = _SETS[signs]
    heavy = min(max(round(share * width), 0), width)
    if share >= 0.01:
        heavy = max(heavy, 1)
    return kind.thick * heavy + kind.thin * (width - heavy)


def bar(signs: Signs) -> str:
    """A thin upright that parts one stretch from the next."""
    return _SETS[signs].bar


def pointer(signs: Signs) -> str:
    """What stands under the column that is looked at."""
    return _SETS[signs].pointer
