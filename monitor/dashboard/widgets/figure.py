"""One large figure with its unit: drawn in one style a row, only when it changed."""

from __future__ import annotations

from rich.segment import Segment
from textual.strip import Strip
from textual.widget import Widget

from monitor.dashboard.widgets.numerals import HEIGHT, figure_rows, figure_width
from monitor.words.figures import MISSING

Parts = tuple[tuple[str, str], ...]


class Figure(Widget):
    """Numbers with their units, as ((number, unit), ...); empty parts show as missing.

    Falls back to plain text on the bottom row where the large form does not fit or where the
    terminal draws no block signs.
    """

    DEFAULT_CSS = f"""
    Figure {{ height: {HEIGHT}; width: 1fr; }}
    """

    def __init__(self, *, id: str | None = None, largest: int = 1) -> None:
        super().__init__(id=id)
        self.parts: Parts = ()
        self.plain = False
        self.largest = largest
        self.repaints = 0

    def show(self, parts: Parts, plain: bool = False) -> bool:
        if (parts, plain) == (self.parts, self.plain):
            return False
        self.parts, self.plain = parts, plain
        self.repaints += 1
        self.refresh()
        return True

    @property
    def words(self) -> str:
        return " ".join(f"{number} {unit}".strip() for number, unit in self.parts) or MISSING

    def _rows(self) -> list[str]:
        width, height = self.size
        shown = self.parts or ((MISSING, ""),)
        if not self.plain:
            for scale in range(self.largest, 0, -1):
                if figure_width(shown, scale) <= width and HEIGHT * scale <= height:
                    rows = figure_rows(shown, scale)
                    return [""] * (height - len(rows)) + rows
        return [""] * (height - 1) + [self.words]

    def render_line(self, y: int) -> Strip:
        rows = self._rows()
        text = rows[y] if y < len(rows) else ""
        width = self.size.width
        return Strip([Segment(text[:width].ljust(width), self.rich_style)], width)
