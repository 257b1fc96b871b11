"""What happened: the newest first, as long as it is remembered."""

from __future__ import annotations

from typing import ClassVar, Final

from textual.binding import BindingType

from monitor.dashboard.actions import Hint, Own, leave, own_bindings, own_hints
from monitor.dashboard.screens.ask import AskScreen
from monitor.dashboard.screens.page import KEYS as PAGE_KEYS
from monitor.dashboard.screens.page import TURNING, PageScreen
from monitor.dashboard.view import View
from monitor.logbook import EntryError, entry_of
from monitor.words.degrees import in_degrees
from monitor.words.figures import Clock
from monitor.words.journal import (
    ENTRY_ASKED,
    HEADING,
    NO_BANK,
    NOTHING_YET,
    entry_example,
    journal_lines,
)
from monitor.words.keys import JOURNAL
from monitor.words.texts import Section

#: More than anybody turns pages for (our choice).
SHOWN: Final = 300

KEYS: Final = (PAGE_KEYS[0], Own("l", "enter", JOURNAL["enter"], 3), *TURNING, leave(2))


class JournalScreen(PageScreen):
    """Written anew only when something happened, so that the page being read stays where it is.

    What people measure and do by hand is entered here too, and stands in it at once.
    """

    HEADING = HEADING
    HINTS: ClassVar[list[Hint]] = own_hints(KEYS)
    BINDINGS: ClassVar[list[BindingType]] = own_bindings(KEYS)

    def __init__(self) -> None:
        super().__init__()
        self._last: tuple[int, Clock] | None = None
        self._bank = ""

    def show(self, view: View) -> None:
        super().show(view)
        self._bank = view.bank.id if view.bank is not None else ""
        newest = view.snapshot.last_event if view.snapshot is not None else 0
        if (newest, view.clock) == self._last:
            return
        self._last = (newest, view.clock)
        events = self.board.feed.events(max(0, newest - SHOWN))
        lines = journal_lines(events, view.now, view.clock) or [NOTHING_YET]
        self.write([Section("", tuple(lines))])

    def action_enter(self) -> None:
        self._ask(ENTRY_ASKED, "")

    def _ask(self, question: str, before: str) -> None:
        example = entry_example(self.board.fahrenheit)

        def given(line: str | None) -> None:
            if line and line != before:
                self._take(line)

        self.app.push_screen(AskScreen(question, before, example), given)

    def _take(self, line: str) -> None:
        """Send it, or ask again with what is wrong and what was typed."""
        bank = self._bank
        if not bank:
            self.notify(NO_BANK)
            return
        try:
            commands = entry_of(line, self.board.who, bank, fahrenheit=self.board.fahrenheit)
        except EntryError as error:
            self._ask(in_degrees(str(error), self.board.fahrenheit), line)
            return
        self.board.enter(commands)
