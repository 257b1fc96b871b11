"""A sheet of answers as text: the answer first, figures, a table, what it means, what was assumed.

Made for 80 columns and for 40: a table that is too wide for the paper becomes a short block for
each row. Whatever is calculated here ends with its assumptions, its cautions, and who decides.
"""

from __future__ import annotations

import re
import textwrap
from dataclasses import dataclass, field
from typing import Any, Final

#: Who decides (the last line of every sheet).
DEFERS: Final = (
    "Figures to plan with, not a design: local codes, the makers' data sheets and a licensed "
    "practitioner decide."
)
MEASURE_IT: Final = "A figure is no proof that a circuit is dead: measure it."
AT_THE_POSTS: Final = (
    "Open the AC supply and the DC disconnect before you touch the posts; metal jewellery off, "
    "insulated tools."
)
#: The space between a figure and what it counts, and that within `7 h 9 min`.
_FIGURE: Final = re.compile(r"(?<=\d) (?=[^\W\d]{1,3}\b|[°%(])|(?<=\dh) (?=\d)|(?<= h) (?=\d)")
WIDEST: Final = 80
NARROWEST: Final = 40


@dataclass(frozen=True, slots=True)
class Table:
    """Columns of text; the first is left-aligned, the others right.

    `says`: the last column is words, not figures; on narrow paper it stands beside the first.
    """

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    title: str = ""
    says: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """What a size command says. `answer` is the machine form: plain JSON, units in its keys."""

    title: str
    headline: str
    figures: tuple[tuple[str, str], ...] = ()
    tables: tuple[Table, ...] = ()
    meaning: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    assumptions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    answer: dict[str, Any] = field(default_factory=dict)
    answered: bool = True

    def machine(self) -> dict[str, Any]:
        """For `--json`."""
        return {
            "what": self.title,
            "answered": self.answered,
            "headline": self.headline,
            **self.answer,
            "warnings": list(self.warnings),
            "assumptions": list(self.assumptions),
            "cautions": [*self.cautions, MEASURE_IT, AT_THE_POSTS],
            "defers_to": DEFERS,
        }


def text(sheet: Sheet, columns: int = WIDEST) -> str:
    """The sheet on paper of so many columns."""
    width = min(max(columns, NARROWEST), WIDEST)
    lines = [*_wrapped(sheet.title.upper(), width), *_wrapped(sheet.headline, width)]
    for warning in sheet.warnings:
        lines += _wrapped(warning, width, "! ")
    if sheet.figures:
        lines += ["", *_figures(sheet.figures, width)]
    for table in sheet.tables:
        lines += ["", *_table(table, width)]
    if sheet.meaning:
        lines.append("")
        for words in sheet.meaning:
            lines += _wrapped(words, width)
    lines += ["", *_listed("Assumed", sheet.assumptions, width)]
    lines += ["", *_listed("Caution", (*sheet.cautions, MEASURE_IT, AT_THE_POSTS), width)]
    lines += ["", *_wrapped(DEFERS, width)]
    return "\n".join(lines) + "\n"


def in_short(sheet: Sheet, columns: int = WIDEST) -> str:
    """The answer and its warnings again: on a screen the top of a long sheet has scrolled away."""
    width = min(max(columns, NARROWEST), WIDEST)
    lines = _wrapped(f"In short: {sheet.headline}", width)
    for warning in sheet.warnings:
        lines += _wrapped(warning, width, "! ")
    return "\n".join(lines) + "\n"


def _wrapped(words: str, width: int, mark: str = "") -> list[str]:
    """Lines of words; a figure keeps its unit on its own line."""
    lines = textwrap.wrap(
        _FIGURE.sub("\u00a0", words),
        width,
        initial_indent=mark,
        subsequent_indent=" " * len(mark),
        break_on_hyphens=False,
    )
    return [line.replace("\u00a0", " ") for line in lines]


def _listed(heading: str, items: tuple[str, ...], width: int) -> list[str]:
    lines = [f"{heading}:"] if items else []
    for item in items:
        lines += _wrapped(item, width, "- ")
    return lines


def _figures(figures: tuple[tuple[str, str], ...], width: int) -> list[str]:
    """`label  figure`, aligned; on narrow paper the label above where both do not fit."""
    label = max(len(name) for name, _ in figures)
    lines = []
    if label + 2 + 16 > width:
        for name, figure in figures:
            lines += [*_wrapped(name, width), *_wrapped(figure, width, "  ")]
        return lines
    for name, figure in figures:
        mark = f"{name:<{label}}  "
        parts = _wrapped(figure, width, " " * len(mark))
        lines += [mark + parts[0][len(mark) :], *parts[1:]]
    return lines


def _table(table: Table, width: int) -> list[str]:
    title = _wrapped(table.title, width) if table.title else []
    rows = (table.heads, *table.rows)
    widths = [max(len(row[n]) for row in rows) for n in range(len(table.heads))]
    if sum(widths) + 2 * (len(widths) - 1) <= width:
        return [*title, *(_row(row, widths, table.says) for row in rows)]
    lines = title
    last = len(table.heads) - 1 if table.says else len(table.heads)
    for row in table.rows:
        lines += _wrapped(": ".join((row[0], *row[last:])), width)
        pairs = [f"{head} {row[n]}" for n, head in enumerate(table.heads) if 0 < n < last]
        lines += _wrapped("; ".join(pairs), width, "  ")
    return lines


def _row(row: tuple[str, ...], widths: list[int], says: bool) -> str:
    cells = [f"{cell:>{width}}" for cell, width in zip(row, widths, strict=True)]
    cells[0] = f"{row[0]:<{widths[0]}}"
    if says:
        cells[-1] = row[-1]
    return "  ".join(cells).rstrip()
