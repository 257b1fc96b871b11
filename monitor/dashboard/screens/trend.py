"""Trend: hours, days or weeks, with a cursor; zoom and pan by plain letters."""

from __future__ import annotations

import math
from typing import ClassVar, Final, cast

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.screen import Screen

from monitor.dashboard.actions import Hint, Own, leave, own_bindings, own_hints
from monitor.dashboard.view import Board, View
from monitor.dashboard.widgets.alarm_bar import AlarmBar
from monitor.dashboard.widgets.blocks import pointer
from monitor.dashboard.widgets.hints import Hints
from monitor.dashboard.widgets.line import Line, Paragraph
from monitor.dashboard.widgets.replaybar import ReplayBar
from monitor.dashboard.widgets.sheet_rows import Marks, sheet_rows
from monitor.dashboard.widgets.trend import TrendChart
from monitor.dashboard.widgets.trend_rows import GUTTER, Row
from monitor.engine.snapshot import BankView, Event, Stage
from monitor.trend import Trend
from monitor.words import trend as say
from monitor.words.fitting import cut, wrapped
from monitor.words.keys import BACK, TREND

HOUR: Final = 3600.0
#: What zooming steps through: an hour to four weeks, which is as far as the store reaches.
ZOOMS: Final = (HOUR, 3 * HOUR, 6 * HOUR, 12 * HOUR, 24 * HOUR, 72 * HOUR, 168 * HOUR, 672 * HOUR)
#: As far back as there can be anything (`monitor.trend`): a month.
_BACK_SECONDS: Final = 30 * 24 * HOUR
#: Events looked at for alarm marks (our choice: months of a quiet bank).
_EVENTS: Final = 2000

#: Under so many columns the cursor tells means only.
BRIEF: Final = 58

#: In the order of the bottom line.
KEYS: Final = (
    Own("x,escape", "back", BACK, 1),
    Own("i", "zoom(-1)", TREND["in"], 3),
    Own("o,v", "zoom(1)", TREND["out"], 4),
    Own("p", "pan(1)", TREND["past"], 5),
    Own("n", "pan(-1)", TREND["newer"], 6),
    Own("e,left", "cursor(-1)", TREND["earlier"], 7),
    Own("l,right", "cursor(1)", TREND["later"], 8),
    leave(2),
)


class SheetChart(TrendChart):
    """The chart with set-points and alarms; the owner says what is to be marked."""

    marks = Marks((), ())
    fahrenheit = False

    def drawn(self, trend: Trend, height: int) -> list[Row]:
        return sheet_rows(
            trend, height, self.marks, self.signs, self.clock, fahrenheit=self.fahrenheit
        )


class TrendScreen(Screen[None]):
    """Asks the feed for a trend only when a column has completed or the view changed."""

    CSS_PATH = "trend.tcss"
    AUTO_FOCUS = None
    HINTS: ClassVar[list[Hint]] = own_hints(KEYS)
    BINDINGS: ClassVar[list[BindingType]] = own_bindings(KEYS)

    def __init__(self) -> None:
        super().__init__()
        self._view: View | None = None
        self._zoom = ZOOMS.index(6 * HOUR)
        self._back = 0
        self._cursor: int | None = None
        self._drawn: tuple[object, ...] | None = None
        self._raised: list[Event] = []

    def compose(self) -> ComposeResult:
        yield AlarmBar(id="alarm")
        yield Line(id="heading")
        yield Paragraph(id="told")
        yield SheetChart(id="sheet")
        yield Line(id="cursor")
        yield Hints(self.HINTS, id="hints")
        if self._board.feed.player is not None:
            yield ReplayBar(id="replay")

    @property
    def _board(self) -> Board:
        return cast(Board, self.app)

    @property
    def _chart(self) -> SheetChart:
        return self.query_one(SheetChart)

    def on_resize(self) -> None:
        self.call_after_refresh(self._board.redraw)

    def show(self, view: View) -> None:
        self._view = view
        self.query_one(AlarmBar).draw(view.snapshot, view.stalled, self.size.width)
        for bar in self.query(ReplayBar):
            bar.draw(self._board.feed.player, view.clock, self._board.signs, view.shown)
        self._draw(view)
        self._tell(view)

    # The chart.

    @property
    def _window(self) -> float:
        return ZOOMS[self._zoom]

    def _draw(self, view: View) -> None:
        chart, board = self._chart, self._board
        if view.snapshot is None or not view.snapshot.banks or not chart.columns:
            return
        bank = view.snapshot.banks[view.bank_index % len(view.snapshot.banks)]
        width = self._window / chart.columns
        newest = math.floor(view.now / width)
        # A feed that answers later counts its answers, so that they are taken when they come.
        answers = getattr(board.feed, "answers", 0)
        looks = (board.signs, view.clock, view.fahrenheit, answers)
        wanted = (bank.id, self._window, self._back, chart.size, newest, *looks)
        if wanted == self._drawn:
            return
        self._drawn = wanted
        trend = self._trend(bank.id, chart.columns)
        self._raised = say.raised(board.feed.events(view.snapshot.last_event - _EVENTS))
        chart.marks = Marks(_set_points(bank), tuple(event.seconds for event in self._raised))
        chart.fahrenheit = view.fahrenheit
        chart.show(trend, board.signs, view.clock)

    def _trend(self, bank: str, columns: int) -> Trend:
        """The columns in view: those of a longer trend of the same grid, less the newest."""
        longer = columns + self._back
        whole = self._board.feed.trend(bank, self._window * longer / columns, longer)
        shown = whole.columns[:columns]
        end = whole.end - self._back * (whole.end - whole.start) / longer
        return Trend(whole.start, end, shown)

    # What is said of it.

    def _tell(self, view: View) -> None:
        trend, columns = self._chart.trend, self._chart.columns
        width = self.size.width - 2
        if trend is None or not trend.columns or not columns:
            self.query_one("#heading", Line).show(view.stalled or say.HEADING)
            return
        self.query_one("#heading", Line).show(
            cut(say.window_words(trend, view.now, view.clock, gone=bool(view.stalled)), width)
        )
        place = len(trend.columns) - 1 if self._cursor is None else self._cursor
        place = min(max(place, 0), len(trend.columns) - 1)
        column = trend.columns[place]
        words = say.column_words(
            column, view.now, view.clock, fahrenheit=view.fahrenheit, brief=width < BRIEF
        )
        alarms = say.raised_words(column, self._window / columns, self._raised, width)
        told, rows = self.query_one("#told", Line), [*wrapped(words, width, ""), *alarms]
        # Room for an alarm at each column where there is room, so that the chart stays where it is.
        little = self.has_class("-short") and not self.has_class("-narrow")
        told.rows(max(1 if little else 2, len(rows)))
        told.show("\n".join(rows))
        self.query_one("#cursor", Line).show(" " * (GUTTER + place) + pointer(self._board.signs))

    # Keys.

    def action_cursor(self, by: int) -> None:
        columns = self._chart.columns
        if self._view is None or not columns:
            return
        place = columns - 1 if self._cursor is None else self._cursor
        place += by
        if not 0 <= place < columns:
            self._pan_to(self._back - by)
        self._cursor = min(max(place, 0), columns - 1)
        self.show(self._view)

    def action_pan(self, by: int) -> None:
        if self._view is not None:
            self._pan_to(self._back + by * max(self._chart.columns // 2, 1))
            self.show(self._view)

    def _pan_to(self, back: int) -> None:
        """So many columns back from the newest; no further than there can be anything."""
        columns = max(self._chart.columns, 1)
        most = max(int(_BACK_SECONDS / (self._window / columns)) - columns, 0)
        self._back = min(max(back, 0), most)

    def action_zoom(self, by: int) -> None:
        """More or fewer hours around the same right edge."""
        before = self._window
        self._zoom = min(max(self._zoom + by, 0), len(ZOOMS) - 1)
        self._pan_to(round(self._back * before / self._window))
        if self._view is not None:
            self.show(self._view)

    def action_back(self) -> None:
        self.dismiss()


def _set_points(bank: BankView) -> tuple[tuple[Stage, float], ...]:
    points = bank.set_points
    named = ((Stage.ABSORPTION, points.absorption), (Stage.FLOAT, points.float_))
    return tuple((name, each.figure) for name, each in named if each.figure is not None)
