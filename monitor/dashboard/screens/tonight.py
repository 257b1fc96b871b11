"""Tonight: how full at dawn, how long a generator, can a load be run, what tomorrow's sun does."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import ClassVar, Final

from textual.binding import BindingType
from textual.worker import Worker, WorkerState

from monitor.dashboard.actions import Hint, Own, leave, own_bindings, own_hints
from monitor.dashboard.screens.ask import AskScreen
from monitor.dashboard.screens.page import KEYS as PAGE_KEYS
from monitor.dashboard.screens.page import TURNING, PageScreen
from monitor.dashboard.view import View
from monitor.engine.as_of import why_not_now
from monitor.feed import Knowing
from monitor.words import tonight as say
from monitor.words.keys import TONIGHT
from monitor.words.texts import NO_READING_YET, Section

#: The answers are worked out anew this often, in seconds of the feed: they are about hours.
REFRESH_SECONDS: Final = 300.0

#: What was typed, and what was asked before it: what is asked now, or what is wrong.
Understood = Callable[[str, say.Asked], say.Asked | str]

KEYS: Final = (
    PAGE_KEYS[0],
    Own("l", "ask_load", TONIGHT["load"], 3),
    Own("v", "ask_goal", TONIGHT["goal"], 4),
    *TURNING,
    leave(2),
)


class TonightScreen(PageScreen):
    """The answers are worked out in a thread of their own; the last ones stay up meanwhile."""

    HEADING = say.HEADING
    HINTS: ClassVar[list[Hint]] = own_hints(KEYS)
    BINDINGS: ClassVar[list[BindingType]] = own_bindings(KEYS)
    #: Kept from one opening of the screen to the next.
    asked: ClassVar[say.Asked] = say.Asked()

    def __init__(self) -> None:
        super().__init__()
        self._view: View | None = None
        self._key: tuple[object, ...] | None = None
        self._found: say.Answers | None = None
        self._behind = False

    def show(self, view: View) -> None:
        super().show(view)
        self._view = view
        bank, feed = view.bank, self.board.feed
        if bank is None or not isinstance(feed, Knowing):
            words = view.stalled or (NO_READING_YET if bank is None else say.NOT_HERE)
            self.write([Section("", (words,))])
            return
        self.head_of(say.HEADING, bank)
        unread = why_not_now(bank.volts, bank.amps)
        turn = math.floor(view.now / REFRESH_SECONDS)
        key = (bank.id, not unread, turn, view.clock, self.asked)
        if key != self._key or self._behind:
            if self._key is None or self._key[:2] != key[:2]:
                self._found = None
            self._key = key
            outlook = feed.outlook(bank.id)
            # A feed that answers later may still give one from before the bank fell silent or
            # spoke again: what the snapshot shows counts.
            self._behind = outlook is not None and bool(outlook.unread) and not unread
            if outlook is not None and unread:
                outlook = replace(outlook, unread=unread)
            if not self._behind:
                work = partial(say.answers, outlook, self.asked, view.clock)
                self.run_worker(work, thread=True, exclusive=True, exit_on_error=False)
        self._write()

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        result = event.worker.result if event.state is WorkerState.SUCCESS else None
        if isinstance(result, say.Answers):
            self._found = result
            self._write()

    def _write(self) -> None:
        view, bank = self._view, self._view.bank if self._view is not None else None
        if view is None or bank is None:
            return
        if self._found is None:
            self.write([Section("", (say.THINKING,))])
        else:
            self.write(say.tonight_sections(bank.id, self._found, view.now, view.clock))

    def action_ask_load(self) -> None:
        self._ask(say.ASK_LOAD, say.ASK_LOAD_EXAMPLE, say.load_asked)

    def action_ask_goal(self) -> None:
        self._ask(say.ASK_GENERATOR, say.ASK_GENERATOR_EXAMPLE, say.goal_asked)

    def _ask(self, question: str, example: str, understood: Understood, before: str = "") -> None:
        """Ask; and again, with what is wrong and what was typed, until it is right or left."""

        def given(text: str | None) -> None:
            if not text or text == before:
                return
            asked = understood(text, self.asked)
            if isinstance(asked, str):
                self._ask(asked, example, understood, text)
            elif self._view is not None:
                TonightScreen.asked = asked
                self.show(self._view)

        self.app.push_screen(AskScreen(question, before, example), given)
