"""The evidence of every figure on the live screen, and the chain behind it."""

from __future__ import annotations

from monitor.dashboard.screens.page import PageScreen
from monitor.dashboard.view import View
from monitor.words.explained import explained
from monitor.words.texts import Section


class ExplainScreen(PageScreen):
    """Follows the feed: the page stays where it is while its figures change."""

    HEADING = "Why each figure is what it is"

    def show(self, view: View) -> None:
        super().show(view)
        if view.bank is None or view.snapshot is None:
            self.write([Section("", (view.stalled or "No reading yet.",))])
            return
        parts = self.board.feed.explain(view.bank.id)
        self.write(explained(view.snapshot, view.bank, parts, view.clock))
