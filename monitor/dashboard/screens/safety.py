"""The safety cautions, shown once before hands go near posts, and on a key afterwards."""

from __future__ import annotations

from typing import ClassVar, Final, cast

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen

from monitor.dashboard.actions import Hint, Own, own_bindings, own_hints
from monitor.dashboard.screens.page import TURNING, Text
from monitor.dashboard.view import Board, View
from monitor.dashboard.widgets.alarm_bar import AlarmBar
from monitor.dashboard.widgets.hints import Hints
from monitor.dashboard.widgets.line import Line
from monitor.words import keys
from monitor.words.degrees import told_in
from monitor.words.texts import CAUTIONS, CAUTIONS_HEADING

KEYS: Final = (
    Own("y", "read", keys.CAUTIONS["read"], 1),
    *(key._replace(rank=key.rank + 1) for key in TURNING),
    Own("t", "app.next_theme", keys.CAUTIONS["next_theme"]),
    Own("q", "quit_unread", keys.EVERYWHERE["leave"], 5),
    Own("x", "back", keys.BACK, 2),
)
#: Before they were read there is nothing to go back to: the same letter leaves, and says so.
UNREAD: Final = Own("x", "back", keys.CAUTIONS["unread"], 2)


class SafetyScreen(ModalScreen[bool]):
    """Dismissed with True once read, or looked at again. `first`: they were not read before; who
    does not read them leaves the program."""

    CSS_PATH = "safety.tcss"
    AUTO_FOCUS = None
    HINTS: ClassVar[list[Hint]] = own_hints(KEYS)
    BINDINGS: ClassVar[list[BindingType]] = own_bindings(KEYS)

    def __init__(self, first: bool = False) -> None:
        super().__init__()
        self._first = first

    def compose(self) -> ComposeResult:
        yield AlarmBar(id="alarm")
        yield Line(id="heading")
        with VerticalScroll(id="pages", can_focus=False):
            yield Text(id="text")
        keys = (*KEYS[:-2], UNREAD) if self._first else KEYS
        yield Hints(own_hints(keys), id="hints")

    def on_mount(self) -> None:
        self.query_one("#heading", Line).show(CAUTIONS_HEADING)
        self._write()

    def _write(self) -> None:
        cautions = told_in(CAUTIONS, cast(Board, self.app).fahrenheit)
        self.query_one("#text", Text).show("\n\n".join(cautions))

    def show(self, view: View) -> None:
        self.query_one(AlarmBar).draw(view.snapshot, view.stalled, self.size.width)
        self._write()

    def action_read(self) -> None:
        self.dismiss(True)

    def action_back(self) -> None:
        if self._first:
            self.action_quit_unread()
        else:
            self.dismiss(True)

    def action_quit_unread(self) -> None:
        self.app.exit(0)

    def action_next_page(self) -> None:
        self.query_one("#pages", VerticalScroll).scroll_page_down(animate=False)

    def action_page_before(self) -> None:
        self.query_one("#pages", VerticalScroll).scroll_page_up(animate=False)
