"""A document as one HTML file: nothing is fetched, nothing runs, and it prints as it looks.

Every word that comes from a file or a person goes through `escape`; markup is only what stands
here. Black on white with greys, so that it reads the same from a printer without colour.
"""

from __future__ import annotations

from collections.abc import Iterator
from html import escape
from typing import Final

from monitor.report.document import (
    LOUD,
    Block,
    Caution,
    Defect,
    Document,
    Heading,
    Pairs,
    Paragraph,
    Plot,
    Signatures,
    Table,
)
from monitor.report.drawing import WIDTH, Box, Mark, Run, Words, height_of, marks_of

_STYLE: Final = """
:root { color-scheme: light; }
body { font: 10.5pt/1.4 "DejaVu Sans", Verdana, Arial, sans-serif; color: #000; background: #fff;
  max-width: 54em; margin: 1.5em auto; padding: 0 1em; overflow-wrap: anywhere; }
h1 { font-size: 1.6em; margin: 0 0 .6em; }
h2 { font-size: 1.2em; margin: 1.8em 0 .5em; padding-bottom: .15em; border-bottom: 2px solid #000; }
h3 { font-size: 1em; margin: 1.2em 0 .4em; }
p { margin: .5em 0; }
dl { display: grid; grid-template-columns: minmax(9em, 24%) 1fr; gap: .15em 1em; margin: .5em 0; }
dt { font-weight: bold; }
dd { margin: 0; }
table { border-collapse: collapse; width: 100%; table-layout: fixed; font-size: .85em;
  margin: .4em 0; }
th, td { border: 1px solid #777; padding: .25em .4em; text-align: left; vertical-align: top;
  white-space: pre-line; overflow-wrap: anywhere; }
th { background: #e4e4e4; }
tr.heavy td { border-width: 2px; border-color: #000; }
tr.heavy td:first-child, tr.heavy .verdict { font-weight: bold; }
.caution { border: 2px solid #000; border-left-width: .6em; padding: .3em .6em; margin: .3em 0; }
.defect { border: 3px double #000; padding: .4em .7em; margin: .6em 0; }
.defect p { margin: .25em 0; }
.defect .name { font-weight: bold; font-size: 1.05em; }
figure { margin: .6em 0; }
svg { width: 100%; height: auto; }
figcaption { font-size: .85em; }
.sign { display: flex; gap: 2em; margin-top: 3.5em; }
.sign div { flex: 1; border-top: 1px solid #000; padding-top: .2em; font-size: .9em; }
footer { margin-top: 2em; font-size: .75em; color: #333; }
@media screen and (max-width: 40em) {
  table, tbody, tr, td { display: block; width: auto; }
  thead, colgroup { display: none; }
  tr { border: 1px solid #777; margin: .5em 0; }
  tr.heavy { border: 2px solid #000; }
  td, tr.heavy td { border: 0; padding: .15em .4em; display: grid;
    grid-template-columns: 7.5em 1fr; gap: .6em; }
  td::before { content: attr(data-column); font-weight: bold; }
  td:empty { display: none; }
  td:first-child { background: #e4e4e4; }
  .sign { display: block; }
  .sign div { margin-top: 3.5em; }
}
@page { margin: 15mm; }
@media print {
  body { max-width: none; margin: 0; padding: 0; font-size: 9pt; }
  h2, h3 { break-after: avoid; }
  thead { display: table-header-group; }
  tr, figure, .defect, .caution, .sign { break-inside: avoid; }
  a { color: #000; text-decoration: none; }
}
"""


def html(document: Document) -> str:
    """The whole file, which ends with a line end."""
    return "\n".join(_lines(document)) + "\n"


def _lines(document: Document) -> Iterator[str]:
    yield "<!DOCTYPE html>"
    yield '<html lang="en">'
    yield '<head><meta charset="utf-8">'
    yield '<meta name="viewport" content="width=device-width, initial-scale=1">'
    yield (
        '<meta http-equiv="Content-Security-Policy" '
        "content=\"default-src 'none'; style-src 'unsafe-inline'\">"
    )
    yield f'<meta name="report" content="{escape(document.seal)}">'
    yield f"<title>{escape(document.title)}</title>"
    yield f"<style>{_STYLE}</style></head>"
    yield "<body>"
    for block in document.blocks:
        yield from _block(block)
    yield f"<footer>{escape(document.foot)}</footer>"
    yield "</body></html>"


def _block(block: Block) -> Iterator[str]:
    match block:
        case Heading(words, level):
            yield f"<h{level}>{escape(words)}</h{level}>"
        case Paragraph(words):
            yield f"<p>{escape(words)}</p>"
        case Caution(words):
            yield f'<p class="caution">{escape(words)}</p>'
        case Defect(words, lines):
            yield f'<div class="defect"><p class="name">{escape(words)}</p>'
            for line in lines:
                yield f"<p>{escape(line)}</p>"
            yield "</div>"
        case Pairs(rows):
            yield "<dl>"
            for name, value in rows:
                yield f"<dt>{escape(name)}</dt><dd>{escape(value)}</dd>"
            yield "</dl>"
        case Table():
            yield from _table(block)
        case Plot():
            yield from _plot(block)
        case Signatures(who):
            yield '<div class="sign">'
            for each in who:
                yield f"<div>{escape(each)}</div><div>Date</div>"
            yield "</div>"


def _table(table: Table) -> Iterator[str]:
    yield "<table><colgroup>"
    yield "".join(f'<col style="width:{100.0 * width:.0f}%">' for width in table.widths)
    yield "</colgroup><thead><tr>"
    yield "".join(f"<th>{escape(words)}</th>" for words in table.columns)
    yield "</tr></thead><tbody>"
    for number, row in enumerate(table.rows):
        heavy = ' class="heavy"' if number in table.heavy else ""
        cells = zip(table.columns, row, strict=True)
        yield f"<tr{heavy}>" + "".join(_cell(name, words) for name, words in cells) + "</tr>"
    yield "</tbody></table>"


def _cell(column: str, words: str) -> str:
    """One cell, with the name of its column: on a phone a row becomes a block of such pairs."""
    verdict = ' class="verdict"' if column in LOUD else ""
    return f'<td{verdict} data-column="{escape(column)}">{escape(words)}</td>'


def _plot(plot: Plot) -> Iterator[str]:
    yield "<figure>"
    yield (
        f'<svg viewBox="0 0 {WIDTH:g} {height_of(plot):g}" role="img" '
        f'aria-label="{escape(", ".join(pane.words for pane in plot.panes))}">'
    )
    for mark in marks_of(plot):
        yield _mark(mark)
    yield f"</svg><figcaption>{escape(plot.words)}</figcaption></figure>"


def _mark(mark: Mark) -> str:
    match mark:
        case Box(x, y, width, height, fill, edge):
            return (
                f'<rect x="{x:.2f}" y="{y:.2f}" width="{width:.2f}" height="{height:.2f}" '
                f'fill="{_grey(fill)}" stroke="{_grey(edge)}" stroke-width="0.6"/>'
            )
        case Run(points, ink, width, dashed, fill):
            form = "polygon" if fill is not None else "polyline"
            dashes = ' stroke-dasharray="4 2"' if dashed else ""
            return (
                f'<{form} points="{" ".join(f"{x:.2f},{y:.2f}" for x, y in points)}" '
                f'fill="{_grey(fill)}" stroke="{_grey(ink)}" stroke-width="{width:g}"{dashes}/>'
            )
        case Words(x, y, words, anchor, size):
            return (
                f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:g}" '
                f'text-anchor="{anchor}">{escape(words)}</text>'
            )


def _grey(level: float | None) -> str:
    if level is None:
        return "none"
    whole = round(255 * level)
    return f"#{whole:02x}{whole:02x}{whole:02x}"
