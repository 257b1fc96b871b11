"""The alarms: one at a time in full, and everything that can be done about it by plain letters."""

from __future__ import annotations

from typing import ClassVar, Final, NamedTuple, cast

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import Screen

from adapters.reading import Action
from monitor.dashboard.actions import Hint, Own, leave, own_bindings, own_hints
from monitor.dashboard.screens.ask import AskScreen
from monitor.dashboard.screens.page import LONGEST_LINE, Text
from monitor.dashboard.view import Board, View
from monitor.dashboard.widgets.hints import Hints
from monitor.dashboard.widgets.line import Line
from monitor.dashboard.widgets.replaybar import ReplayBar
from monitor.engine.snapshot import AlarmState, AlarmView
from monitor.words.alarms import (
    FOR,
    NO,
    OUT_OF_SERVICE_ASKED,
    SHELVE_FOR,
    YES,
    alarm_heading,
    alarm_heading_then,
    alarm_order,
    alarm_rows,
    alarm_told,
    noted,
)
from monitor.words.fitting import fitted, wrapped
from monitor.words.keys import ALARMS, BACK, EVERYWHERE
from monitor.words.texts import NOTE_ASKED, NOTE_EXAMPLE


class Answer(NamedTuple):
    """One answer to a question: its key, what it does, with what before the note."""

    key: str
    action: Action
    lead: str
    word: str


#: What asks first, since it takes an alarm out of sight: how long, or whether really.
QUESTIONS: Final[dict[str, tuple[str, tuple[Answer, ...]]]] = {
    "shelve": (
        SHELVE_FOR,
        (
            Answer("1", Action.SHELVE, "3600", FOR["hour"]),
            Answer("8", Action.SHELVE, "28800", FOR["hours"]),
            Answer("2", Action.SHELVE, "172800", FOR["days"]),
            Answer("c", Action.SHELVE, "", FOR["clear"]),
        ),
    ),
    "service": (
        OUT_OF_SERVICE_ASKED,
        (Answer("y", Action.OUT_OF_SERVICE, "", YES),),
    ),
}
#: In the order of the bottom line.
KEYS: Final = (
    Own("x,escape", "back", BACK, 1),
    Own("k", "do('acknowledge')", ALARMS["seen"], 2),
    Own("s", "ask('shelve')", ALARMS["shelve"], 4),
    Own("o", "ask('service')", ALARMS["out"], 8),
    Own("b", "bring_back", ALARMS["bring_back"], 10),
    Own("r", "do('reset')", ALARMS["reset"], 7),
    Own("e", "note", ALARMS["note"], 6),
    Own("n,down", "move(1)", ALARMS["next"], 3),
    Own("p,up", "move(-1)", ALARMS["before"], 5),
    Own("d", "scroll_text(1)", ALARMS["down"], 9),
    Own("u", "scroll_text(-1)", ALARMS["up"], 11),
    Own("j", "", EVERYWHERE["journal"], 12),
    leave(13),
)

#: Rows of the list at least, where there are so many: two alarms of two rows.
LEAST_LISTED: Final = 4

#: How each state that is set aside is ended.
_BACK: Final = {
    AlarmState.SHELVED: Action.UNSHELVE,
    AlarmState.OUT_OF_SERVICE: Action.IN_SERVICE,
}


def _listed(told: list[tuple[str, ...]], at: int, width: int) -> Content:
    """A row an alarm, or two; the one under the cursor in reverse with a sign before it."""
    rows: list[Content | str | tuple[str, str]] = []
    for index, lines in enumerate(told):
        for place, line in enumerate(lines):
            rows.append("\n" if rows else "")
            sign = ">" if index == at and not place else " "
            text = f"{sign} {line}"
            rows.append((text.ljust(width), "bold reverse") if index == at else text)
    return Content.assemble(*rows)


def _around(counts: list[int], at: int, room: int) -> range:
    """The alarms that are listed: the one at the cursor, and whole ones before and after it."""
    first, after, used = at, at + 1, counts[at]
    grown = True
    while grown:
        grown = False
        if after < len(counts) and used + counts[after] <= room:
            used, after, grown = used + counts[after], after + 1, True
        if first > 0 and used + counts[first - 1] <= room:
            used, first, grown = used + counts[first - 1], first - 1, True
    return range(first, after)


class AlarmsScreen(Screen[None]):
    """A list with a cursor; the alarm under it is told in full below."""

    CSS_PATH = "alarms.tcss"
    AUTO_FOCUS = None
    HINTS: ClassVar[list[Hint]] = own_hints(KEYS)
    BINDINGS: ClassVar[list[BindingType]] = [
        *own_bindings(KEYS),
        *(Binding(key, f"answer('{key}')", show=False) for key in "128cy"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._alarms: list[AlarmView] = []
        self._at: tuple[str, str] | None = None
        self._view: View | None = None
        self._question = ""
        self._note = ""

    def compose(self) -> ComposeResult:
        yield Line(id="heading")
        yield Line(id="list")
        yield Text(id="asked", classes="nothing")
        with VerticalScroll(id="pages", can_focus=False):
            yield Text(id="text")
        yield Hints(self.HINTS, id="hints")
        if cast(Board, self.app).feed.player is not None:
            yield ReplayBar(id="replay")

    @property
    def _index(self) -> int:
        places = [(alarm.name, alarm.target) for alarm in self._alarms]
        return places.index(self._at) if self._at in places else 0

    def show(self, view: View) -> None:
        self._view = view
        board = cast(Board, self.app)
        for bar in self.query(ReplayBar):
            bar.draw(board.feed.player, view.clock, board.signs, view.shown)
        self._alarms = alarm_order(view.snapshot.alarms) if view.snapshot else []
        heading = self.query_one("#heading", Line)
        rows, text = self.query_one("#list", Line), self.query_one("#text", Text)
        room = heading.size.width or self.size.width
        heads = [alarm_heading(self._alarms, room)]
        if view.stalled:
            moment = view.clock.at(view.now, view.now) or ""
            heads = [
                *fitted(view.stalled, room, 2).split("\n"),
                alarm_heading_then(self._alarms, room, moment),
            ]
        heading.rows(len(heads))
        heading.show("\n".join(heads))
        width = max(rows.size.width, 20)
        told = [alarm_rows(alarm, width - 2) for alarm in self._alarms]
        counts = [len(lines) for lines in told]
        at = self._index
        listed = _around(counts, at, max(self.size.height // 3, LEAST_LISTED)) if told else range(0)
        rows.rows(max(sum(counts[index] for index in listed), 1))
        self._show_asked()
        if not self._alarms:
            rows.show("")
            text.show("")
            return
        rows.show(_listed([told[index] for index in listed], at - listed.start, width))
        about = alarm_told(self._alarms[at], view.now, view.clock)
        text.show("\n".join(row for line in about for row in wrapped(line, self._room, "")))

    @property
    def _room(self) -> int:
        """Columns of the text; one is left for the bar that shows the place in it."""
        return min(max(self.size.width - 3, 20), LONGEST_LINE)

    def _show_asked(self) -> None:
        """The question that waits for a key, or the note that goes with what is done next."""
        line = self.query_one("#asked", Text)
        line.mark("nothing", not (self._question or self._note))
        if self._question:
            words, answers = QUESTIONS[self._question]
            parts: list[Content | str | tuple[str, str]] = [words]
            for answer in answers:
                parts += [" ", (answer.key, "bold"), f" {answer.word}"]
            line.show(Content.assemble(*parts, " ", ("x", "bold"), f" {NO}"))
        else:
            line.show(noted(self._note))

    def action_move(self, by: int) -> None:
        if self._alarms and self._view is not None:
            self._question = ""
            alarm = self._alarms[(self._index + by) % len(self._alarms)]
            self._at = (alarm.name, alarm.target)
            self.query_one("#pages", VerticalScroll).scroll_home(animate=False)
            self.show(self._view)

    # What is done about the alarm under the cursor.

    def action_do(self, action: str) -> None:
        self._question = ""
        self._send(Action(action))

    def action_bring_back(self) -> None:
        if self._alarms:
            action = _BACK.get(self._alarms[self._index].state)
            if action is not None:
                self._send(action)

    def action_ask(self, question: str) -> None:
        if self._alarms:
            self._question = question
            # What is asked is about this alarm, whichever comes to the top meanwhile.
            alarm = self._alarms[self._index]
            self._at = (alarm.name, alarm.target)
            self._show_asked()

    def action_answer(self, key: str) -> None:
        """An answer while a question waits; else what the key does everywhere."""
        if not self._question:
            cast(Board, self.app).do(key)
        for answer in QUESTIONS[self._question][1] if self._question else ():
            if answer.key == key:
                self._question = ""
                self._send(answer.action, answer.lead)

    def action_note(self) -> None:
        self._question = ""

        def keep(note: str | None) -> None:
            self._note = note or ""
            self._show_asked()

        self.app.push_screen(AskScreen(NOTE_ASKED, self._note, NOTE_EXAMPLE), keep)

    def _send(self, action: Action, lead: str = "") -> None:
        if self._alarms:
            note = f"{lead} {self._note}".strip()
            cast(Board, self.app).tell(self._alarms[self._index], action, note)
            self._note = ""
        self._show_asked()

    def action_scroll_text(self, by: int) -> None:
        pages = self.query_one("#pages", VerticalScroll)
        (pages.scroll_page_down if by > 0 else pages.scroll_page_up)(animate=False)

    def action_back(self) -> None:
        if self._question:
            self._question = ""
            self._show_asked()
        else:
            self.dismiss()
