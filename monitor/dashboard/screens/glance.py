"""One figure as large as the terminal allows, to be read from across the room."""

from __future__ import annotations

from typing import ClassVar, Final, cast

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.screen import Screen

from monitor.dashboard.actions import Hint, Own, leave, own_bindings, own_hints
from monitor.dashboard.view import Board, View
from monitor.dashboard.widgets.alarm_bar import AlarmBar
from monitor.dashboard.widgets.blocks import Signs
from monitor.dashboard.widgets.figure import Figure, Parts
from monitor.dashboard.widgets.hints import Hints
from monitor.dashboard.widgets.line import Line
from monitor.dashboard.widgets.replaybar import ReplayBar
from monitor.words import sentences as say
from monitor.words.figures import give_or_take
from monitor.words.fitting import LEAST_NAME, clipped, first_fitting
from monitor.words.keys import BACK, GLANCE

KEYS: Final = (Own("x,escape", "back", BACK, 1), Own("b", "", GLANCE["bank"], 3), leave(2))


class GlanceScreen(Screen[None]):
    """How full the bank is, how long it takes where there is room; alarms above, stage below."""

    CSS_PATH = "glance.tcss"
    AUTO_FOCUS = None
    HINTS: ClassVar[list[Hint]] = own_hints(KEYS)
    BINDINGS: ClassVar[list[BindingType]] = own_bindings(KEYS)

    def compose(self) -> ComposeResult:
        yield AlarmBar(id="alarm")
        yield Figure(id="soc", largest=5)
        yield Line(id="doubt")
        yield Figure(id="large-wait", largest=4)
        yield Line(id="wait")
        yield Line(id="stage")
        yield Hints(self.HINTS, id="hints")
        if cast(Board, self.app).feed.player is not None:
            yield ReplayBar(id="replay")

    def show(self, view: View) -> None:
        self.query_one(AlarmBar).draw(view.snapshot, view.stalled, max(self.size.width, 22))
        board = cast(Board, self.app)
        for bar in self.query(ReplayBar):
            bar.draw(board.feed.player, view.clock, board.signs, view.shown)
        bank = view.bank
        past = bank is None or say.past(bank)
        soc = None if bank is None or past else give_or_take(bank.charge.soc)
        plain = board.signs is Signs.LETTERS
        parts: Parts = ((str(soc.percent), "%"),) if soc else ()
        self.query_one("#soc", Figure).show(parts, plain)
        reply = None if bank is None or past else say.wanted(bank)[0]
        self.query_one("#large-wait", Figure).show(reply.parts if reply else (), plain)
        if bank is None:
            for name, words in (("doubt", view.stalled), ("stage", ""), ("wait", "")):
                self.query_one(f"#{name}", Line).show(words)
            return
        charged, width = say.charged(bank), self.size.width - 2
        # Without the clock time, which the wait itself tells, where there is no room for both.
        wait, bare = (
            say.waiting_time(bank, view.now, clock)
            for clock in (view.clock, view.clock._replace(offset=None))
        )
        brief = say.brief_charged(bank)
        forms = {
            "doubt": (f"{bank.id} {charged}", *self._named(bank.id, charged, brief, width)),
            "stage": (say.stage_words(bank), say.brief_stage(bank)),
            "wait": (wait, bare, say.brief_wait(bank, view.now, view.clock)),
        }
        for name, told in forms.items():
            self.query_one(f"#{name}", Line).show(first_fitting(width, *told))

    def _named(self, bank: str, charged: str, brief: str, width: int) -> tuple[str, ...]:
        """Where there are several banks, which one it is goes before how it is said."""
        if len(cast(Board, self.app).feed.site.banks) < 2:
            return charged, brief
        name = clipped(bank, max(width - len(brief) - 1, LEAST_NAME))
        return f"{bank} {brief}", f"{name} {brief}"

    def action_back(self) -> None:
        self.dismiss()
