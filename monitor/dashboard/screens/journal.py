"""What happened: the newest first, as long as it is remembered."""

from __future__ import annotations

from typing import ClassVar, Final

from textual.binding import Binding, BindingType

from monitor.dashboard.screens.ask import AskScreen
from monitor.dashboard.screens.page import PageScreen
from monitor.dashboard.view import View
from monitor.dashboard.widgets.hints import Hint
from monitor.logbook import EntryError, entry_of
from monitor.words.journal import ENTRY_ASKED, ENTRY_EXAMPLE, NO_BANK, journal_lines
from monitor.words.texts import Section

#: More than anybody turns pages for (our choice).
SHOWN: Final = 300


class JournalScreen(PageScreen):
    """Written anew only when something happened, so that the page being read stays where it is.

    What people measure and do by hand is entered here too, and stands in it at once.
    """

    HEADING = "What happened, newest first"
    HINTS: ClassVar[list[Hint]] = [
        ("x", "back", 1),
        ("l", "enter", 3),
        *[hint for hint in PageScreen.HINTS if hint[0] in "np"],
        ("q", "quit", 2),
    ]
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("l", "enter", "enter what was measured or done", show=False)
    ]

    def __init__(self) -> None:
        super().__init__()
        self._last: int | None = None
        self._bank = ""

    def show(self, view: View) -> None:
        super().show(view)
        self._bank = view.bank.id if view.bank is not None else ""
        newest = view.snapshot.last_event if view.snapshot is not None else 0
        if newest == self._last:
            return
        self._last = newest
        events = self.board.feed.events(max(0, newest - SHOWN))
        lines = journal_lines(events, view.now, view.clock) or ["Nothing yet."]
        self.write([Section("", tuple(lines))])

    def action_enter(self) -> None:
        self._ask(ENTRY_ASKED, "")

    def _ask(self, question: str, before: str) -> None:
        def given(line: str | None) -> None:
            if line and line != before:
                self._take(line)

        self.app.push_screen(AskScreen(question, before, ENTRY_EXAMPLE), given)

    def _take(self, line: str) -> None:
        """Send it, or ask again with what is wrong and what was typed."""
        bank = self._bank
        if not bank:
            self.notify(NO_BANK)
            return
        try:
            commands = entry_of(line, self.board.who, bank)
        except EntryError as error:
            self._ask(str(error), line)
            return
        self.board.enter(commands)
