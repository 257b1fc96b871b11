"""What happened: the newest first, as long as it is remembered."""

from __future__ import annotations

from typing import Final

from monitor.dashboard.screens.page import PageScreen
from monitor.dashboard.view import View
from monitor.words.journal import journal_lines
from monitor.words.texts import Section

#: More than anybody turns pages for (our choice).
SHOWN: Final = 300


class JournalScreen(PageScreen):
    """Written anew only when something happened, so that the page being read stays where it is."""

    HEADING = "What happened, newest first"

    def __init__(self) -> None:
        super().__init__()
        self._last: int | None = None

    def show(self, view: View) -> None:
        super().show(view)
        newest = view.snapshot.last_event if view.snapshot is not None else 0
        if newest == self._last:
            return
        self._last = newest
        events = self.board.feed.events(max(0, newest - SHOWN))
        lines = journal_lines(events, view.now, view.clock) or ["Nothing yet."]
        self.write([Section("", tuple(lines))])
