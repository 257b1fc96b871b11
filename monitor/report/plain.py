"""A document as plain text, 80 columns: for a mail, a terminal, an old printer."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Final

from monitor.report.document import (
    Block,
    Caution,
    Defect,
    Document,
    Heading,
    Pairs,
    Pane,
    Paragraph,
    Plot,
    Signatures,
    Table,
)

COLUMNS: Final = 80
#: Rows of a plot told in figures.
_ROWS: Final = 24


def plain(document: Document) -> str:
    """The whole text; its last line is the seal, as long as it is."""
    lines: list[str] = []
    for block in document.blocks:
        lines.extend(_block(block))
    return "\n".join((*lines, "", *_wrapped(document.foot), "", document.seal)) + "\n"


def _block(block: Block) -> Iterator[str]:
    match block:
        case Heading(words, level):
            yield ""
            wrapped = _wrapped(words)
            yield from wrapped
            if level < 3:
                longest = max(len(line) for line in wrapped)
                yield ("=" if level == 1 else "-") * longest
        case Paragraph(words):
            yield from _wrapped(words)
            yield ""
        case Caution(words):
            yield from _wrapped(words, "! ", "  ")
        case Defect(words, lines):
            yield ""
            yield from _wrapped(f"*** {words}", "", "    ")
            for line in lines:
                yield from _wrapped(line, "    ", "      ")
        case Pairs(rows):
            for name, value in rows:
                yield from _wrapped(f"{name + ':':<22} {value}", "", " " * 23)
        case Table():
            yield from _table(block)
        case Plot():
            yield from _plot(block)
        case Signatures(who):
            for each in who:
                yield from ("", "", f"{'_' * 44}  {'_' * 20}", f"{each:<44}  Date")


def _wrapped(words: str, first: str = "", later: str = "") -> list[str]:
    return textwrap.wrap(
        words,
        COLUMNS,
        initial_indent=first,
        subsequent_indent=later,
        break_on_hyphens=False,
    ) or [""]


def _table(table: Table) -> Iterator[str]:
    """In columns where every row fits, else each row as a little list of its own."""
    yield ""
    cells = (table.columns, *table.rows)
    widths = [max(len(row[n]) for row in cells) for n in range(len(table.columns))]
    flat = not any("\n" in words for row in table.rows for words in row)
    if flat and sum(widths) + 2 * (len(widths) - 1) <= COLUMNS - 2:
        for number, row in enumerate(cells):
            mark = "* " if number - 1 in table.heavy else "  "
            line = mark + "  ".join(
                words.ljust(width) for words, width in zip(row, widths, strict=True)
            )
            yield line.rstrip()
            if number == 0:
                yield "  " + "  ".join("-" * width for width in widths)
        return
    for number, row in enumerate(table.rows):
        mark = "* " if number in table.heavy else "- "
        yield from _wrapped(row[0] or table.columns[0], mark, "  ")
        for name, words in zip(table.columns[1:], row[1:], strict=True):
            for place, line in enumerate(words.split("\n")):
                if line:
                    if place == 0:
                        yield from _wrapped(f"{name}: {line}", "    ", "      ")
                    else:
                        yield from _wrapped(line, "      ", "        ")


def _plot(plot: Plot) -> Iterator[str]:
    """The plot's figures, a row for each of so many stretches."""
    bins = len(plot.edges) - 1
    per_row = -(-bins // _ROWS)
    rows = []
    for first in range(0, bins, per_row):
        last = min(first + per_row, bins)
        start, end = plot.edges[first], plot.edges[last]
        rows.append(
            (
                _when(plot, start),
                *(_ends(pane, first, last) for pane in plot.panes),
                _lane(plot, start, end),
            )
        )
    table = Table(
        ("About", *(f"{pane.unit} from..to" for pane in plot.panes), "Mostly"),
        tuple(rows),
        (),
    )
    yield from _table(table)


def _when(plot: Plot, seconds: float) -> str:
    """Hours and minutes from the first bin; the ticks' names stand at theirs."""
    passed = round((seconds - plot.edges[0]) / 60.0)
    return f"+{passed // 60}:{passed % 60:02d}"


def _ends(pane: Pane, first: int, last: int) -> str:
    low = [each for each in pane.low[first:last] if each is not None]
    high = [each for each in pane.high[first:last] if each is not None]
    digits = 2 if pane.unit == "V" else 1
    if not low or not high:
        return "not seen"
    return f"{min(low):.{digits}f}..{max(high):.{digits}f}"


def _lane(plot: Plot, start: float, end: float) -> str:
    held = {
        lane.words: sum(max(min(end, b) - max(start, a), 0.0) for a, b in lane.on)
        for lane in plot.lanes
    }
    longest = max(held, key=lambda words: held[words], default="")
    return longest if held.get(longest, 0.0) > 0.0 else "not known"
