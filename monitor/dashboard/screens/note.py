"""A note for the next thing done about an alarm: typed, kept with Enter."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import ModalScreen
from textual.widgets import Input

from monitor.dashboard.widgets.line import Line


class NoteScreen(ModalScreen[str]):
    """Gives the note; what was there before where the person leaves with Esc. Letters are text
    here, so that Enter is the way out on keyboards without Esc: an empty line is no note."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "keep_before", show=False)]
    LONGEST: ClassVar[int] = 200

    DEFAULT_CSS = """
    NoteScreen { align: left bottom; }
    NoteScreen Line { padding: 0 1; background: $surface; }
    NoteScreen Input { border: none; height: 1; padding: 0 1; }
    """

    def __init__(self, before: str) -> None:
        super().__init__()
        self._before = before

    def compose(self) -> ComposeResult:
        yield Line(id="asked")
        yield Input(self._before, max_length=self.LONGEST, placeholder="why, or what was done")

    def on_mount(self) -> None:
        self.query_one(Line).show("Note, kept with Enter:")
        self.query_one(Input).focus()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        self.dismiss(" ".join(event.value.split()))

    def action_keep_before(self) -> None:
        self.dismiss(self._before)
