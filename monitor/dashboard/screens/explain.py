"""The evidence of every figure on the live screen, and the chain behind it."""

from __future__ import annotations

from typing import Final

from monitor.dashboard.screens.page import PageScreen
from monitor.dashboard.view import View
from monitor.words.explained import HEADING, explained
from monitor.words.texts import NO_READING_YET, Section

#: Nobody reads a page that changes under his eyes, and a slow line cannot carry it either: seconds
#: between two writings (our choice).
STANDS_SECONDS: Final = 10.0


class ExplainScreen(PageScreen):
    """Follows the feed at a reader's pace: the page stays where it is while its figures change."""

    HEADING = HEADING

    def __init__(self) -> None:
        super().__init__()
        self._key: tuple[object, ...] | None = None
        self._due, self._awaiting, self._answers = True, False, 0

    def on_mount(self) -> None:
        super().on_mount()
        self.set_interval(STANDS_SECONDS, self._fall_due)

    def _fall_due(self) -> None:
        self._due = True

    def show(self, view: View) -> None:
        super().show(view)
        if view.bank is None or view.snapshot is None:
            self._due = True
            self.write([Section("", (view.stalled or NO_READING_YET,))])
            return
        key = (view.bank.id, view.clock, view.fahrenheit, view.snapshot.alarms)
        fresh = self._due or key != self._key
        # A feed that answers later counts its answers: what was asked for is written when it comes.
        answers = getattr(self.board.feed, "answers", 0)
        if not fresh and not (self._awaiting and answers != self._answers):
            return
        self._key, self._answers, self._awaiting, self._due = key, answers, fresh, False
        parts = self.board.feed.explain(view.bank.id)
        told = explained(view.snapshot, view.bank, parts, view.clock, fahrenheit=view.fahrenheit)
        self.write(told)
