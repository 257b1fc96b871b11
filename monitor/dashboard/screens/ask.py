"""One line asked of a person: a note, a time, a load; typed, given with Enter."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import ModalScreen
from textual.widgets import Input

from monitor.dashboard.screens.page import Text
from monitor.dashboard.widgets.line import Line
from monitor.words.keys import ENTER_ALONE, ENTER_UNCHANGED


class AskScreen(ModalScreen[str]):
    """Gives what was typed; what was there before where the person leaves with Esc. Letters are
    text here, so that Enter is the way out on keyboards without Esc, and says so."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "keep_before", show=False)]
    LONGEST: ClassVar[int] = 200

    DEFAULT_CSS = """
    AskScreen { align: left bottom; background: transparent; }
    AskScreen Line { padding: 0 1; background: $surface; }
    AskScreen #asked { text-style: bold; }
    AskScreen Input, AskScreen Input:focus { border: none; height: 1; padding: 0 1; }
    AskScreen Input:focus { background-tint: $foreground 0%; }
    AskScreen Input > .input--placeholder { color: $quiet; }
    """

    def __init__(self, question: str, before: str = "", example: str = "") -> None:
        super().__init__()
        self._question, self._before, self._example = question, before, example

    def compose(self) -> ComposeResult:
        yield Text(id="asked")
        yield Line(id="way")
        yield Input(self._before, max_length=self.LONGEST, placeholder=self._example)

    def on_mount(self) -> None:
        self.query_one("#asked", Text).show(self._question)
        self.query_one("#way", Line).show(ENTER_UNCHANGED if self._before else ENTER_ALONE)
        self.query_one(Input).focus()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        self.dismiss(" ".join(event.value.split()))

    def action_keep_before(self) -> None:
        self.dismiss(self._before)
