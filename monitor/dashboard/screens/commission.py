"""Proving an installation beside the battery box: one check, its figure large, what to do next.

Everything by single letters, so that a thumb reaches them; a figure is typed and kept with Enter.
The checks themselves are the session's (`monitor.commission`); nothing is judged here.
"""

from __future__ import annotations

from typing import ClassVar, Final, cast

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
from monitor.dashboard.actions import Hint, Own, leave, own_bindings, own_hints
from monitor.dashboard.screens.page import Text
from monitor.dashboard.view import Board, View
from monitor.dashboard.widgets.alarm_bar import AlarmBar
from monitor.dashboard.widgets.blocks import Signs
from monitor.dashboard.widgets.figure import Figure
from monitor.dashboard.widgets.hints import Hints
from monitor.dashboard.widgets.line import Line
from monitor.dashboard.widgets.replaybar import ReplayBar
from monitor.words import commission as words
from monitor.words.degrees import in_degrees
from monitor.words.fitting import wrapped
from monitor.words.in_ascii import spelled
from monitor.words.keys import BACK, COMMISSION, ENTER_ALONE

#: Under so many rows a check that waits shows its caution in place of its figure, and its name is
#: cut to one row.
LITTLE: Final = 12
#: As wide as the stylesheet lets text be.
WIDEST: Final = 90
#: Columns beside the text: a margin on each side, and the bar that shows the place in it.
_BESIDE: Final = 3
#: In the order of the bottom line.
KEYS: Final = (
    Own("x,escape", "back", BACK, 1),
    Own("b", "begin", COMMISSION["begin"], 2),
    Own("e,enter", "enter", COMMISSION["enter"], 3),
    Own("d", "done", COMMISSION["done"], 5),
    Own("n,down", "move(1)", COMMISSION["next"], 4),
    Own("p,up", "move(-1)", COMMISSION["before"], 6),
    Own("s", "skip", COMMISSION["skip"], 7),
    Own("l", "list", COMMISSION["left"], 8),
    Own("o", "note", COMMISSION["note"], 9),
    Own("v,space", "down", COMMISSION["down"], 10),
    leave(11),
)


class AnswerScreen(ModalScreen[str]):
    """A question and a line to answer on; wrong answers are told and asked again, until one is
    right or none is given."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", show=False)]

    def __init__(self, asked: str, ask: Ask | None = None) -> None:
        super().__init__()
        self._asked, self._ask = asked, ask

    def compose(self) -> ComposeResult:
        yield Text(id="asked")
        yield Input(max_length=200)

    def on_mount(self) -> None:
        self._show(self._asked)
        self.query_one(Input).focus()

    def _show(self, asked: str) -> None:
        self.query_one(Text).show(f"{asked}\n{ENTER_ALONE}")

    def on_input_submitted(self, event: Input.Submitted) -> None:
        text = " ".join(event.value.split())
        fahrenheit = cast(Board, self.app).fahrenheit
        if text and self._ask is not None:
            try:
                value_of_entry(self._ask, words.answer(self._ask, text, fahrenheit=fahrenheit))
            except EntryError as error:
                self._show(in_degrees(str(error), fahrenheit))
                return
        self.dismiss(text)

    def action_leave(self) -> None:
        self.dismiss("")


class CommissionScreen(Screen[None]):
    """The check in view: `key`, else the one at which hands are, else the first that waits."""

    CSS_PATH = "commission.tcss"
    AUTO_FOCUS = None
    HINTS: ClassVar[list[Hint]] = own_hints(KEYS)
    BINDINGS: ClassVar[list[BindingType]] = own_bindings(KEYS)

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
    def fahrenheit(self) -> bool:
        return cast(Board, self.app).fahrenheit

    def _told(self, text: str) -> str:
        told = in_degrees(text, self.fahrenheit)
        return spelled(told) if cast(Board, self.app).signs is Signs.LETTERS else told

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
            heading.show(words.HEADING)
            text.show(words.NO_SESSION)
            self.query_one(Hints).offer([hint for hint in self.HINTS if hint[0] in "xq"])
            for name in ("#figure", "#next"):
                self.query_one(name).display = False
            return
        procedure = session.procedure
        place = procedure.items.index(item) + 1
        self._head(
            words.counted(procedure.outcomes())
            if self._listing
            else f"{place}/{len(procedure.items)} {words.name_of(item)}"
        )
        number, unit = words.live_figure(
            item.check, procedure.watch_of(item), fahrenheit=self.fahrenheit
        )
        figure = self.query_one("#figure", Figure)
        room = item.phase is Phase.RUNNING or self.size.height >= LITTLE
        figure.display = bool(number) and room and not self._listing
        figure.show(() if stalled or not number else ((number, unit),))
        now = self.query_one("#next", Text)
        now.display = not self._listing
        state = words.state_of(item, fahrenheit=self.fahrenheit)
        # While hands are at it on a very small screen, the text below has the room of the limit.
        little = item.phase is Phase.RUNNING and self.size.height < LITTLE
        limit = "" if little else words.short_limit(item.limits)
        told = (self._told(line) for line in (state, limit) if line)
        width = self.size.width - 2
        now.show("\n".join(row for line in told for row in wrapped(line, width)))
        if self._listing:
            lines = [words.outcome_line(each) for each in procedure.outcomes()]
            width = min(self.size.width - _BESIDE, WIDEST)
            rows = [row for line in lines for row in wrapped(self._told(line), width)]
            text.show("\n".join(rows))
            return
        parts: list[Content | str | tuple[str, str]] = []
        if item.check.caution and not item.needless:
            parts += [(self._told(words.caution(item.check.caution)), "bold"), "\n"]
        parts += [f"{self._told(line)}\n" for line in words.told_below(item, session.trouble)]
        text.show(Content.assemble(*parts))

    def _head(self, words: str) -> None:
        """In a second row where it does not fit one and the check itself has room below."""
        heading = self.query_one("#heading", Line)
        rows = wrapped(words, self.size.width - 2)[
            : 2 if self._listing or self.size.height >= LITTLE else 1
        ]
        heading.rows(len(rows))
        heading.show("\n".join(rows) if len(rows) > 1 else words)

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
        ask, fahrenheit = item.open_asks[0], self.fahrenheit

        def keep(text: str | None) -> None:
            if text:
                self._say("enter", f"{ask.name} = {words.answer(ask, text, fahrenheit=fahrenheit)}")

        self.app.push_screen(AnswerScreen(words.question(ask, fahrenheit=fahrenheit), ask), keep)

    def action_skip(self) -> None:
        self._ask_words(words.WHY_SKIPPED, "skip")

    def action_note(self) -> None:
        self._ask_words(words.NOTE_ASKED, "note")

    def _ask_words(self, asked: str, word: str) -> None:
        item = self.item
        if item is None or item.needless:
            return

        def keep(text: str | None) -> None:
            if text:
                self._say(word, text)

        self.app.push_screen(AnswerScreen(asked), keep)
