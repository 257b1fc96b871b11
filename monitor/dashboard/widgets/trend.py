"""The trend of the last hours, painted from rows of text; redrawn only when a column completes."""

from __future__ import annotations

from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip
from textual.widget import Widget

from monitor.dashboard.widgets.blocks import Signs
from monitor.dashboard.widgets.trend_rows import GUTTER, Row, trend_rows
from monitor.trend import Trend
from monitor.words.figures import Clock
from monitor.words.fitting import cut


class TrendChart(Widget):
    """Charts over one shared time axis. The owner asks `columns` how many it has room for."""

    COMPONENT_CLASSES = {"trend--scale", "trend--ink"}  # noqa: RUF012 (Textual reads it so)

    DEFAULT_CSS = """
    TrendChart { height: 1fr; }
    TrendChart > .trend--scale { color: $quiet; }
    TrendChart > .trend--ink { color: $ink; }
    """

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.trend: Trend | None = None
        self.signs = Signs.BLOCKS
        self.clock = Clock(None)
        self.repaints = 0
        self._rows: list[Row] = []
        self._height = 0

    @property
    def columns(self) -> int:
        return max(self.size.width - GUTTER, 0)

    def show(self, trend: Trend, signs: Signs, clock: Clock) -> None:
        self.trend, self.signs, self.clock = trend, signs, clock
        self._height = -1
        self.repaints += 1
        self.refresh()

    def rows(self) -> list[Row]:
        """The rows as they are painted now, for this height."""
        if self.trend is None:
            return []
        if self._height != self.size.height:
            self._height = self.size.height
            self._rows = self.drawn(self.trend, self._height)
        return self._rows

    def drawn(self, trend: Trend, height: int) -> list[Row]:
        """The rows of a trend; what a chart of another kind draws differently."""
        return trend_rows(trend, height, self.signs, self.clock)

    def render_line(self, y: int) -> Strip:
        width = self.size.width
        scale_style = self.get_component_rich_style("trend--scale")
        ink = self.get_component_rich_style("trend--ink")
        rows = self.rows()
        if y >= len(rows):
            return Strip([Segment(" " * width, scale_style)], width)
        row = rows[y]
        if row.words:
            ink = scale_style
        elif row.reverse:
            ink += Style(reverse=True)
        text = row.text[: self.columns].ljust(self.columns)
        gutter = cut(row.scale, GUTTER - 1).rjust(GUTTER - 1) + " "
        return Strip([Segment(gutter, scale_style), Segment(text, ink)], width)
