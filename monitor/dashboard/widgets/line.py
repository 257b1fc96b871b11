"""Text that repaints only when it changed, and never asks for a new layout."""

from __future__ import annotations

from typing import ClassVar

from textual.content import Content
from textual.widgets import Static

from monitor.words.fitting import cut


class Line(Static):
    """A fixed number of rows of text (one, unless a stylesheet says otherwise).

    `show` does nothing when the text is the same: at one snapshot a second this is what keeps a
    slow link quiet.
    """

    #: Whether a row that is too long is cut, not wrapped.
    CUTS: ClassVar[bool] = True

    DEFAULT_CSS = """
    Line { height: 1; text-wrap: nowrap; text-overflow: ellipsis; }
    """

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__("", markup=False, id=id, classes=classes)
        self.shown: Content | str = ""
        self.repaints = 0

    def show(self, text: Content | str) -> bool:
        """Show `text`; True where that changed anything."""
        if text == self.shown:
            return False
        self.shown = text
        self.repaints += 1
        self._paint()
        return True

    def _paint(self) -> None:
        """Plain text is cut after a whole word where it is longer than the line."""
        text, width = self.shown, self.size.width
        if self.CUTS and isinstance(text, str) and width:
            text = "\n".join(cut(line, width) for line in text.split("\n"))
        self.update(text, layout=False)

    def on_resize(self) -> None:
        if self.CUTS and isinstance(self.shown, str) and self.shown:
            self._paint()

    def rows(self, count: int) -> None:
        """Take so many rows; a new layout only where that changed."""
        if self.styles.height is None or self.styles.height.value != count:
            self.styles.height = count

    def mark(self, name: str, on: bool) -> None:
        """Set or drop a class, touching nothing when it already is so."""
        if self.has_class(name) is not on:
            self.set_class(on, name)


class Paragraph(Line):
    """Text that wraps within the rows it has."""

    CUTS = False

    DEFAULT_CSS = """
    Paragraph { height: 2; text-wrap: wrap; text-overflow: fold; }
    """
