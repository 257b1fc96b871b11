"""Proving an installation beside the battery box: one check, its figure large, what to do next.

Everything by single letters, so that a thumb reaches them; a figure is typed and kept with Enter.
The checks themselves are the session's (`monitor.commission`); nothing is judged here.
"""

from __future__ import annotations

from typing import ClassVar, cast

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen, Screen
from textual.widgets import Input

from monitor.commission.check import Ask
from monitor.commission.entry import EntryError, value_of_entry
from monitor.commission.item import Item, Phase
from monitor.commission.session import Session
from monitor.dashboard.screens.page import Text
from monitor.dashboard.view import Board, View
from monitor.dashboard.widgets.alarm_bar import AlarmBar
from monitor.dashboard.widgets.figure import Figure
from monitor.dashboard.widgets.hints import Hint, Hints
from monitor.dashboard.widgets.line import Line
from monitor.dashboard.widgets.replaybar import ReplayBar
from monitor.words import commission as words


class AnswerScreen(ModalScreen[str]):
    """A question and a line to answer on; wrong answers are told and asked again."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", show=False)]

    def __init__(self, asked: str, ask: Ask | None = None) -> None:
        super().__init__()
        self._asked, self._ask = asked, ask

    def compose(self) -> ComposeResult:
        yield Text(id="asked")
        yield Input(max_length=200)

    def on_mount(self) -> None:
        self.query_one(Text).show(self._asked)
        self.query_one(Input).focus()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        text = " ".join(event.value.split())
        if text and self._ask is not None:
            try:
                value_of_entry(self._ask, text)
            except EntryError as error:
                self.query_one(Text).show(str(error))
                return
        self.dismiss(text)

    def action_leave(self) -> None:
        self.dismiss("")


class CommissionScreen(Screen[None]):
    """The check in view: `key`, else the one at which hands are, else the first that waits."""

    CSS_PATH = "commission.tcss"
    AUTO_FOCUS = None
    HINTS: ClassVar[list[Hint]] = [
        ("x", "back", 1),
        ("b", "begin", 2),
        ("e", "enter", 3),
        ("d", "done", 5),
        ("n", "next", 4),
        ("p", "before", 6),
        ("s", "skip", 7),
        ("l", "left", 8),
        ("o", "note", 9),
        ("v", "down", 10),
        ("q", "quit", 11),
    ]
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("x,escape", "back", "back", show=False),
        Binding("b", "begin", "begin this check, or do it again", show=False),
        Binding("e,enter", "enter", "answer the question", show=False),
        Binding("d", "done", "hands are finished", show=False),
        Binding("n,down", "move(1)", "next check", show=False),
        Binding("p,up", "move(-1)", "check before", show=False),
        Binding("s", "skip", "leave this check out, and say why", show=False),
        Binding("l", "list", "what is left, or back to the check", show=False),
        Binding("o", "note", "write a note beside it", show=False),
        Binding("v,space", "down", "text down", show=False),
    ]

    def __init__(self, key: str = "") -> None:
        super().__init__()
        self._key = key
        self._chosen = bool(key)
        self._listing = False

    def compose(self) -> ComposeResult:
        yield AlarmBar(id="alarm")
        yield Line(id="heading")
        yield Figure(id="figure", largest=2)
        yield Text(id="next")
        with VerticalScroll(id="pages", can_focus=False):
            yield Text(id="text")
        yield Hints(self.HINTS, id="hints")
        if cast(Board, self.app).feed.player is not None:
            yield ReplayBar(id="replay")

    @property
    def session(self) -> Session | None:
        return getattr(getattr(self.app, "feed", None), "session", None)

    @property
    def item(self) -> Item | None:
        session = self.session
        if session is None:
            return None
        procedure = session.procedure
        chosen = procedure.item(self._key)
        current = procedure.current
        if current is not None and not self._chosen:
            chosen = current
            self._key = current.key
        if chosen is None:
            chosen = procedure.current or procedure.next or procedure.items[0]
            self._key = chosen.key
        return chosen

    def show(self, view: View) -> None:
        self.query_one(AlarmBar).draw(view.snapshot, view.stalled, max(self.size.width, 22))
        board = cast(Board, self.app)
        for bar in self.query(ReplayBar):
            bar.draw(board.feed.player, view.clock, board.signs, view.shown)
        self.draw(view.stalled)

    def draw(self, stalled: str = "") -> None:
        session, item = self.session, self.item
        heading, text = self.query_one("#heading", Line), self.query_one("#text", Text)
        self.query_one("#pages", VerticalScroll).set_class(item is None, "alone")
        if session is None or item is None:
            heading.show("Proving an installation")
            text.show(words.NO_SESSION)
            for name in ("#figure", "#next"):
                self.query_one(name).display = False
            return
        procedure = session.procedure
        place = procedure.items.index(item) + 1
        heading.show(f"{place}/{len(procedure.items)} {words.name_of(item)}")
        number, unit = words.live_figure(item.check, procedure.watch_of(item))
        figure = self.query_one("#figure", Figure)
        figure.display = bool(number) and not self._listing
        figure.show(() if stalled or not number else ((number, unit),))
        now = self.query_one("#next", Text)
        now.display = not self._listing
        now.show("\n".join(filter(None, (words.state_of(item), words.short_limit(item.limits)))))
        if self._listing:
            lines = [words.outcome_line(each) for each in procedure.outcomes()]
            text.show("\n".join((words.counted(procedure.outcomes()), *lines)))
            return
        parts: list[Content | str | tuple[str, str]] = []
        if item.check.caution and not item.needless:
            parts += [(f"Caution: {item.check.caution}", "bold"), "\n"]
        parts += [f"{line}\n" for line in words.told_below(item, session.trouble)]
        text.show(Content.assemble(*parts))

    # -- what keys do ---------------------------------------------------------------------------

    def _say(self, word: str, rest: str = "") -> None:
        session, item = self.session, self.item
        if session is not None and item is not None and not item.needless:
            session.say(item.key, word, rest)

    def action_back(self) -> None:
        self.dismiss()

    def action_begin(self) -> None:
        self._listing = self._chosen = False
        self._say("begin")

    def action_done(self) -> None:
        self._say("done")

    def action_move(self, by: int) -> None:
        session, item = self.session, self.item
        if session is None or item is None:
            return
        items = session.procedure.items
        self._key = items[(items.index(item) + by) % len(items)].key
        self._listing, self._chosen = False, True
        self.query_one("#pages", VerticalScroll).scroll_home(animate=False)
        self.draw()

    def action_list(self) -> None:
        self._listing = not self._listing
        self.draw()

    def action_down(self) -> None:
        pages = self.query_one("#pages", VerticalScroll)
        if pages.scroll_y >= pages.max_scroll_y:
            pages.scroll_home(animate=False)
        else:
            pages.scroll_page_down(animate=False)

    def action_enter(self) -> None:
        item = self.item
        if item is None or item.phase is not Phase.RUNNING or not item.open_asks:
            return
        ask = item.open_asks[0]

        def keep(text: str | None) -> None:
            if text:
                self._say("enter", f"{ask.name} = {text}")

        self.app.push_screen(AnswerScreen(words.question(ask), ask), keep)

    def action_skip(self) -> None:
        self._ask_words("Left out: why?", "skip")

    def action_note(self) -> None:
        self._ask_words("Note beside this check:", "note")

    def _ask_words(self, asked: str, word: str) -> None:
        item = self.item
        if item is None or item.needless:
            return

        def keep(text: str | None) -> None:
            if text:
                self._say(word, text)

        self.app.push_screen(AnswerScreen(asked), keep)
