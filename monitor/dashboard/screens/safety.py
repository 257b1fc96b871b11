"""The safety cautions, shown once before hands go near posts, and on a key afterwards."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen

from monitor.dashboard.screens.page import Text
from monitor.dashboard.view import View
from monitor.dashboard.widgets.alarm_bar import AlarmBar
from monitor.dashboard.widgets.hints import Hint, Hints
from monitor.dashboard.widgets.line import Line
from monitor.words.texts import CAUTIONS, CAUTIONS_HEADING


class SafetyScreen(ModalScreen[bool]):
    """Dismissed with True once read; with False where the person leaves instead."""

    CSS_PATH = "safety.tcss"
    AUTO_FOCUS = None
    HINTS: ClassVar[list[Hint]] = [
        ("y", "I have read this", 1),
        ("n", "next page", 2),
        ("p", "page before", 3),
        ("q", "quit", 4),
    ]
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("y", "read", "I have read this", show=False),
        Binding("n,space", "next_page", "next page", show=False),
        Binding("p", "page_before", "page before", show=False),
        Binding("t", "app.next_theme", "next colours", show=False),
        Binding("q", "quit_unread", "leave the program", show=False),
    ]

    def compose(self) -> ComposeResult:
        yield AlarmBar(id="alarm")
        yield Line(id="heading")
        with VerticalScroll(id="pages", can_focus=False):
            yield Text(id="text")
        yield Hints(self.HINTS, id="hints")

    def on_mount(self) -> None:
        self.query_one("#heading", Line).show(CAUTIONS_HEADING)
        self.query_one("#text", Text).show("\n\n".join(CAUTIONS))

    def show(self, view: View) -> None:
        self.query_one(AlarmBar).draw(view.snapshot, view.stalled, self.size.width)

    def action_read(self) -> None:
        self.dismiss(True)

    def action_quit_unread(self) -> None:
        self.app.exit(0)

    def action_next_page(self) -> None:
        self.query_one("#pages", VerticalScroll).scroll_page_down(animate=False)

    def action_page_before(self) -> None:
        self.query_one("#pages", VerticalScroll).scroll_page_up(animate=False)
