"""Account: every source in, the loads out, the bank as the remainder, the AC side below."""

from __future__ import annotations

from monitor.dashboard.screens.page import PageScreen
from monitor.dashboard.view import View
from monitor.feed import Knowing
from monitor.words.account import AC, HEADING, ac_lines, account_lines
from monitor.words.own_draw import own_draw
from monitor.words.texts import NO_READING_YET, Section


class AccountScreen(PageScreen):
    """A sheet of figures, no picture."""

    HEADING = HEADING

    def show(self, view: View) -> None:
        super().show(view)
        bank, snapshot = view.bank, view.snapshot
        if bank is None or snapshot is None:
            self.write([Section("", (view.stalled or NO_READING_YET,))])
            return
        self.head_of(HEADING, bank)
        lines = account_lines(snapshot, bank, self.room)
        configured = next((b for b in self.board.feed.site.banks if b.id == bank.id), None)
        if configured is not None and (draw := own_draw(configured)):
            lines.append(draw)
        sections = [Section("", tuple(lines))]
        if isinstance(self.board.feed, Knowing):
            own = [source.id for source in snapshot.sources if source.bank == bank.id]
            sections.append(Section(AC, tuple(ac_lines(self.board.feed.said(bank.id), own))))
        self.write(sections)
