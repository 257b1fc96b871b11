"""The alarms: one at a time in full, acknowledged by a key."""

from __future__ import annotations

from typing import ClassVar, cast

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import Screen

from adapters.reading import Action
from monitor.dashboard.screens.page import Text
from monitor.dashboard.view import Board, View
from monitor.dashboard.widgets.hints import Hint, Hints
from monitor.dashboard.widgets.line import Line
from monitor.engine.snapshot import AlarmView
from monitor.words.alarms import alarm_heading, alarm_order, alarm_row, alarm_told


def _listed(alarms: list[AlarmView], at: int, width: int) -> Content:
    """A row an alarm, the one under the cursor in reverse with a sign before it."""
    rows: list[Content | str | tuple[str, str]] = []
    for index, alarm in enumerate(alarms):
        text = alarm_row(alarm, width - 2)
        rows.append("\n" if rows else "")
        rows.append((f"> {text}".ljust(width), "bold reverse") if index == at else f"  {text}")
    return Content.assemble(*rows)


class AlarmsScreen(Screen[None]):
    """A list with a cursor; the alarm under it is told in full below."""

    CSS_PATH = "alarms.tcss"
    AUTO_FOCUS = None
    HINTS: ClassVar[list[Hint]] = [
        ("x", "back", 1),
        ("k", "seen it", 2),
        ("r", "reset", 5),
        ("n", "next", 3),
        ("p", "before", 4),
        ("d", "down", 6),
        ("u", "up", 8),
        ("q", "quit", 7),
    ]
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("x,escape", "back", "back", show=False),
        Binding("k", "acknowledge", "say that you have seen this alarm", show=False),
        Binding("r", "reset", "let go of an alarm that is kept until reset", show=False),
        Binding("n,down", "move(1)", "next alarm", show=False),
        Binding("p,up", "move(-1)", "alarm before", show=False),
        Binding("d", "scroll_text(1)", "text down", show=False),
        Binding("u", "scroll_text(-1)", "text up", show=False),
        Binding("t", "app.next_theme", "next colours", show=False),
        Binding("q", "app.leave", "leave the program", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._alarms: list[AlarmView] = []
        self._at: tuple[str, str] | None = None
        self._view: View | None = None

    def compose(self) -> ComposeResult:
        yield Line(id="heading")
        yield Line(id="list")
        with VerticalScroll(id="pages", can_focus=False):
            yield Text(id="text")
        yield Hints(self.HINTS, id="hints")

    @property
    def _index(self) -> int:
        places = [(alarm.name, alarm.target) for alarm in self._alarms]
        return places.index(self._at) if self._at in places else 0

    def show(self, view: View) -> None:
        self._view = view
        self._alarms = alarm_order(view.snapshot.alarms) if view.snapshot else []
        heading = self.query_one("#heading", Line)
        rows, text = self.query_one("#list", Line), self.query_one("#text", Text)
        heading.show(alarm_heading(self._alarms))
        height = max(min(len(self._alarms), self.size.height // 3), 1)
        rows.rows(height)
        if not self._alarms:
            rows.show("")
            text.show(view.stalled)
            return
        at = self._index
        first = max(0, min(at - height // 2, len(self._alarms) - height))
        width = max(rows.size.width, 20)
        rows.show(_listed(self._alarms[first : first + height], at - first, width))
        text.show("\n".join(alarm_told(self._alarms[at], view.now, view.clock)))

    def action_move(self, by: int) -> None:
        if self._alarms and self._view is not None:
            alarm = self._alarms[(self._index + by) % len(self._alarms)]
            self._at = (alarm.name, alarm.target)
            self.query_one("#pages", VerticalScroll).scroll_home(animate=False)
            self.show(self._view)

    def action_acknowledge(self) -> None:
        self._send(Action.ACKNOWLEDGE)

    def action_reset(self) -> None:
        self._send(Action.RESET)

    def _send(self, action: Action) -> None:
        if self._alarms:
            cast(Board, self.app).tell(self._alarms[self._index], action)

    def action_scroll_text(self, by: int) -> None:
        pages = self.query_one("#pages", VerticalScroll)
        (pages.scroll_page_down if by > 0 else pages.scroll_page_up)(animate=False)

    def action_back(self) -> None:
        self.dismiss()
