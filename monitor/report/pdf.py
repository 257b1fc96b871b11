"""A document as a PDF, by reportlab (the extra `report`): imported when a PDF is asked for.

The fonts come with the library and are put into the file, so that a degree and an ohm print the
same everywhere; a sign that they lack is printed as a question mark, and the last line says
so. The same document gives the same bytes.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any, Final
from xml.sax.saxutils import escape

from adapters.extras import install
from monitor.mishaps import Refusal
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

PAPERS: Final = ("a4", "letter")
_MARGIN: Final = 42.0
#: The library's frames keep so much of the page's inside to themselves.
_PADDING: Final = 6.0
#: A heading wants so much of the page below it, else it begins the next.
_ROOM: Final = 150.0
_FONT: Final = "Vera"
_BOLD: Final = "VeraBd"
_NO_LIBRARY: Final = (
    "a PDF needs a library that is not installed; write a name that ends in .html or .txt, or "
    f"install it with: {install('report')}"
)


def pdf(document: Document, paper: str = "a4") -> bytes:
    """The whole file; Refusal in one line where the library is not installed."""
    try:
        from reportlab.lib import pagesizes
        from reportlab.pdfbase import pdfmetrics
        from reportlab.pdfbase.ttfonts import TTFont
        from reportlab.platypus.doctemplate import LayoutError
    except ImportError:
        raise Refusal(_NO_LIBRARY) from None
    for name in (_FONT, _BOLD):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, f"{name}.ttf"))
    size = {"a4": pagesizes.A4, "letter": pagesizes.LETTER}[paper]
    glyphs = pdfmetrics.getFont(_FONT).face.charToGlyph
    width = size[0] - 2 * (_MARGIN + _PADDING)
    try:
        return _laid_out(document, size, _Writer(width, glyphs, cut_rows=False))
    except LayoutError:
        # a row that is higher than a page, as a long story of attempts may be
        return _laid_out(document, size, _Writer(width, glyphs, cut_rows=True))


def _laid_out(document: Document, size: tuple[float, float], writer: _Writer) -> bytes:
    from reportlab.platypus import CondPageBreak, SimpleDocTemplate

    story: list[Any] = []
    for number, block in enumerate(document.blocks):
        if isinstance(block, Heading):
            story.append(CondPageBreak(writer.room(document.blocks[number + 1 : number + 2])))
        story.extend(writer.block(block))
    if writer.lacking:
        story.extend(writer.block(Paragraph(_LACKING)))
    out = io.BytesIO()
    template = SimpleDocTemplate(
        out,
        pagesize=size,
        leftMargin=_MARGIN,
        rightMargin=_MARGIN,
        topMargin=_MARGIN,
        bottomMargin=_MARGIN + 12.0,
        title=document.title,
        author="ampwright",
        keywords=document.seal,
        invariant=1,
    )

    def foot(canvas: Any, _: Any) -> None:
        canvas.saveState()
        canvas.setFont(_FONT, 7)
        canvas.drawString(_MARGIN + _PADDING, _MARGIN - 6, writer.known(document.foot)[:100])
        canvas.drawRightString(
            size[0] - _MARGIN - _PADDING, _MARGIN - 6, f"page {canvas.getPageNumber()}"
        )
        canvas.restoreState()

    template.build(story, onFirstPage=foot, onLaterPages=foot)
    return out.getvalue()


_LACKING: Final = (
    "Some signs could not be printed here and stand as question marks; the report as HTML or text "
    "has them."
)


class _Writer:
    """Blocks as the library's flowables. `lacking` once a sign was met that the font has not;
    `cut_rows`: a row may go over to the next page in its middle."""

    def __init__(self, width: float, glyphs: dict[int, int], *, cut_rows: bool) -> None:
        from reportlab.lib.styles import ParagraphStyle

        self.width = width
        self.lacking = False
        self._cut_rows = int(cut_rows)
        self._glyphs = glyphs
        plain = ParagraphStyle("plain", fontName=_FONT, fontSize=8.5, leading=11.5, spaceAfter=4)
        self._styles = {
            "plain": plain,
            "bold": ParagraphStyle("bold", plain, fontName=_BOLD),
            "cell": ParagraphStyle("cell", plain, fontSize=7, leading=8.8, spaceAfter=0),
            "head": ParagraphStyle(
                "head", plain, fontName=_BOLD, fontSize=7, leading=8.8, spaceAfter=0
            ),
            "h1": ParagraphStyle(
                "h1", plain, fontName=_BOLD, fontSize=16, leading=20, spaceAfter=8
            ),
            "h2": ParagraphStyle(
                "h2",
                plain,
                fontName=_BOLD,
                fontSize=11.5,
                leading=15,
                spaceBefore=14,
                spaceAfter=5,
            ),
            "h3": ParagraphStyle("h3", plain, fontName=_BOLD, spaceBefore=7, spaceAfter=3),
        }

    def known(self, words: str) -> str:
        """The words with what the font has no sign for as question marks."""
        kept = "".join(sign if sign == "\n" or ord(sign) in self._glyphs else "?" for sign in words)
        self.lacking = self.lacking or kept != words
        return kept

    def room(self, following: tuple[Block, ...]) -> float:
        """What a heading wants of the page: some lines, or all of a plot."""
        plots = [each for each in following if isinstance(each, Plot)]
        return _ROOM + sum(height_of(each) * self.width / WIDTH for each in plots)

    def _text(self, words: str, style: str) -> Any:
        from reportlab.platypus import Paragraph as Text

        return Text(escape(self.known(words)).replace("\n", "<br/>"), self._styles[style])

    def block(self, block: Block) -> Iterator[Any]:
        match block:
            case Heading(words, level):
                yield self._text(words, f"h{level}")
            case Paragraph(words):
                yield self._text(words, "plain")
            case Caution(words):
                yield self._boxed([self._text(words, "plain")], heavy=False)
            case Defect(words, lines):
                inner = [self._text(words, "bold"), *(self._text(e, "plain") for e in lines)]
                yield self._boxed(inner, heavy=True)
            case Pairs(rows):
                yield self._pairs(rows)
            case Table():
                yield self._table(block)
            case Plot():
                yield self._plot(block)
                yield self._text(block.words, "cell")
            case Signatures(who):
                yield self._signatures(who)

    def _boxed(self, inner: list[Any], *, heavy: bool) -> Any:
        """One row for each line, so that a long one may go over to the next page."""
        from reportlab.platypus import Table as Grid

        return Grid(
            [[each] for each in inner],
            colWidths=[self.width],
            style=[
                ("BOX", (0, 0), (-1, -1), 1.6 if heavy else 0.8, (0, 0, 0)),
                ("LINEBEFORE", (0, 0), (0, -1), 5, (0, 0, 0)),
                ("LEFTPADDING", (0, 0), (-1, -1), 11),
                ("TOPPADDING", (0, 0), (-1, -1), 2),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
            ],
            splitInRow=self._cut_rows,
            spaceBefore=3,
            spaceAfter=3,
        )

    def _pairs(self, rows: tuple[tuple[str, str], ...]) -> Any:
        from reportlab.platypus import Table as Grid

        return Grid(
            [[self._text(name, "head"), self._text(value, "cell")] for name, value in rows],
            colWidths=[0.25 * self.width, 0.75 * self.width],
            style=[
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("TOPPADDING", (0, 0), (-1, -1), 1),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
            ],
            spaceAfter=4,
        )

    def _table(self, table: Table) -> Any:
        from reportlab.platypus import Table as Grid

        rows = [[self._text(words, "head") for words in table.columns]]
        style: list[tuple[Any, ...]] = [
            ("GRID", (0, 0), (-1, -1), 0.4, (0.45, 0.45, 0.45)),
            ("BACKGROUND", (0, 0), (-1, 0), (0.89, 0.89, 0.89)),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 3),
            ("RIGHTPADDING", (0, 0), (-1, -1), 3),
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
        ]
        for number, row in enumerate(table.rows):
            heavy = number in table.heavy
            loud = [heavy and (n == 0 or name in LOUD) for n, name in enumerate(table.columns)]
            rows.append(
                [
                    self._text(words, "head" if bold else "cell")
                    for words, bold in zip(row, loud, strict=True)
                ]
            )
            if heavy:
                style.append(("BOX", (0, number + 1), (-1, number + 1), 1.6, (0, 0, 0)))
        return Grid(
            rows,
            colWidths=[share * self.width for share in table.widths],
            style=style,
            repeatRows=1,
            splitInRow=self._cut_rows,
            spaceBefore=2,
            spaceAfter=6,
        )

    def _plot(self, plot: Plot) -> Any:
        from reportlab.graphics.shapes import Drawing

        scaled = self.width / WIDTH
        height = height_of(plot)
        drawing = Drawing(self.width, height * scaled)
        for mark in marks_of(plot):
            drawing.add(self._mark(mark, height))
        drawing.scale(scaled, scaled)
        return drawing

    def _mark(self, mark: Mark, height: float) -> Any:
        from reportlab.graphics.shapes import Polygon, PolyLine, Rect, String

        match mark:
            case Box(x, y, width, tall, fill, edge):
                return Rect(
                    x,
                    height - y - tall,
                    width,
                    tall,
                    fillColor=_grey(fill),
                    strokeColor=_grey(edge),
                    strokeWidth=0.6,
                )
            case Run(points, ink, width, dashed, fill):
                flat = [part for x, y in points for part in (x, height - y)]
                looks: dict[str, Any] = {"strokeColor": _grey(ink), "strokeWidth": width}
                if dashed:
                    looks["strokeDashArray"] = [4, 2]
                if fill is not None:
                    return Polygon(flat, fillColor=_grey(fill), **looks)
                return PolyLine(flat, **looks)
            case Words(x, y, words, anchor, size):
                return String(
                    x,
                    height - y,
                    self.known(words),
                    fontName=_FONT,
                    fontSize=size,
                    textAnchor=anchor,
                )

    def _signatures(self, who: tuple[str, ...]) -> Any:
        from reportlab.platypus import Table as Grid

        cells: list[Any] = []
        shares: list[float] = []
        for name in who:
            cells += [self._text(name, "cell"), "", self._text("Date", "cell"), ""]
            shares += [0.29, 0.02, 0.15, 0.04]
        whole = sum(shares)
        return Grid(
            [["" for _ in cells], cells],
            colWidths=[self.width * share / whole for share in shares],
            rowHeights=[36, None],
            style=[
                ("LINEABOVE", (column, 1), (column, 1), 0.8, (0, 0, 0))
                for column in range(0, len(cells), 2)
            ],
        )


def _grey(level: float | None) -> Any:
    from reportlab.lib.colors import Color

    return None if level is None else Color(level, level, level)
