"""Bank: what was learned of it, each figure with its doubt and date; halves or cells."""

from __future__ import annotations

from monitor.dashboard.screens.page import PageScreen
from monitor.dashboard.view import View
from monitor.feed import Knowing
from monitor.words.bank import HEADING, bank_sections
from monitor.words.texts import NO_READING_YET, Section


class BankScreen(PageScreen):
    """Follows the feed; what was learned stays up while nothing is read."""

    HEADING = HEADING

    def show(self, view: View) -> None:
        super().show(view)
        bank = view.bank
        if bank is None:
            self.write([Section("", (view.stalled or NO_READING_YET,))])
            return
        self.head_of(HEADING, bank)
        feed = self.board.feed
        said = feed.said(bank.id) if isinstance(feed, Knowing) else ()
        self.write(bank_sections(bank, said, view.now, view.clock, fahrenheit=view.fahrenheit))
