"""The live screen: alarms, the stage and why, how full, how long, what flows, the last hours."""

from __future__ import annotations

import math
from typing import Final, cast

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.screen import Screen

from monitor.dashboard.actions import hints
from monitor.dashboard.view import Board, View
from monitor.dashboard.widgets.blocks import Signs
from monitor.dashboard.widgets.figure import Figure, Parts
from monitor.dashboard.widgets.hints import Hints
from monitor.dashboard.widgets.line import Line, Paragraph
from monitor.dashboard.widgets.replaybar import ReplayBar
from monitor.dashboard.widgets.sources import short_source_lines, source_lines
from monitor.dashboard.widgets.trend import TrendChart
from monitor.engine.snapshot import AlarmView, BankView, Priority, Snapshot
from monitor.words import sentences as say
from monitor.words.alarm_line import alarm_lines
from monitor.words.alarm_states import standing, unseen, worst
from monitor.words.figures import (
    amps_number,
    give_or_take,
    probability,
    sign,
    temperature,
    volts,
)
from monitor.words.fitting import LEAST_NAME, clipped, cut, first_fitting, fitted, wrapped

_PRIORITY_CLASSES = {Priority.LOW: "low", Priority.MEDIUM: "medium", Priority.HIGH: "high"}

#: A thing that takes more rows than this is told briefly.
_MOST_ROWS: Final = 2

#: What to do first takes up to so many rows of 38 columns: the longest there is.
_MOST_OF_NOTE: Final = 3

#: Under so many rows one line says why, so that the figures below it stay whole.
LITTLE: Final = 12
#: Under so many rows the figures stand in words (`-short` in the style sheet).
SHORT: Final = 18


class NowScreen(Screen[None]):
    """Draws one `View`; knows nothing of where it comes from but the trend it asks for."""

    CSS_PATH = "now.tcss"
    AUTO_FOCUS = None

    def __init__(self) -> None:
        super().__init__()
        self._drawn: tuple[object, ...] | None = None

    def compose(self) -> ComposeResult:
        with Horizontal(id="top"):
            yield Line(id="alarm")
            yield Line(id="where")
        yield Line(id="note", classes="nothing")
        yield Line(id="stage")
        yield Paragraph(id="why")
        with Horizontal(id="figures"):
            for name in ("soc", "wait", "flow"):
                with Vertical(id=f"{name}-box"):
                    yield Figure(id=name)
                    yield Line(id=f"{name}-label")
                    yield Line(id=f"{name}-doubt", classes="doubt")
        yield Paragraph(id="short")
        yield Line(id="sources")
        yield TrendChart(id="trend")
        yield Hints(id="hints")
        if self._board.feed.player is not None:
            yield ReplayBar(id="replay")

    @property
    def _board(self) -> Board:
        return cast(Board, self.app)

    def on_mount(self) -> None:
        playing = self._board.feed.player is not None
        banks = len(self._board.feed.site.banks)
        self.query_one(Hints).offer(hints(playing, banks))

    def on_screen_resume(self) -> None:
        """What covered it is gone: draw what changed meanwhile."""
        self.call_after_refresh(self._board.redraw)

    def on_resize(self) -> None:
        self.call_after_refresh(self._board.redraw)

    def _line(self, name: str) -> Line:
        return self.query_one(f"#{name}", Line)

    def show(self, view: View) -> None:
        """Draw what changed."""
        self._top(view)
        bank = view.bank
        self._stage(view, bank)
        self._figures(view, bank)
        self._short(view, bank)
        self._sources(view, bank)
        self._trend(view)
        for bar in self.query(ReplayBar):
            bar.draw(self._board.feed.player, view.clock, self._board.signs, view.shown)

    # The top: alarms, where and when, and one line of what to know or do first.

    def _top(self, view: View) -> None:
        snapshot = view.snapshot
        if snapshot is None:
            self._where(view, None)
            room = self.size.width - 2
            self._alarms(tuple(fitted(view.stalled or say.WAITING, room, 2).split("\n")))
            self._note([])
            return
        self._priority(standing(snapshot.alarms))
        if view.stalled:
            self._gone(view, snapshot)
            return
        self._alarms(alarm_lines(snapshot, self._where(view, snapshot)))
        if view.bank is not None:
            self._note(say.notes(snapshot, view.bank, view.clock), say.do_first(snapshot))

    def _gone(self, view: View, snapshot: Snapshot) -> None:
        """Nobody tells anything any more: that first, then which alarm there was, as of when."""
        line, room = self._line("where"), self.size.width - 2
        line.show("")
        line.styles.width = 0
        self._alarms(tuple(fitted(view.stalled, room, _MOST_ROWS).split("\n")))
        lead = say.as_of(view.clock.at(view.now, view.now) or "")
        told = alarm_lines(snapshot, room - len(lead))
        apart = [lead.rstrip(), *alarm_lines(snapshot, room)]
        self._note_rows(apart if len(told) > 1 else [lead + told[0]])

    def _alarms(self, lines: tuple[str, ...]) -> None:
        alarm, top = self._line("alarm"), self.query_one("#top")
        alarm.rows(len(lines))
        if top.styles.height is None or top.styles.height.value != len(lines):
            top.styles.height = len(lines)
        alarm.show("\n".join(lines))

    def _where(self, view: View, snapshot: Snapshot | None) -> int:
        """Bank and time at the right; how many columns they leave for the alarm line.

        Where that would need a second row beside them, its bank and then the time give way.
        """
        line, room = self._line("where"), self.size.width - 2
        alarmed = snapshot is not None and bool(standing(snapshot.alarms))
        brief = alarmed or self.size.width < 100
        named = say.bank_id if brief else say.bank_name
        bank = "" if view.bank is None else named(view.bank)
        moment = view.clock.at(view.now, view.now) or ""
        words = "  ".join(part for part in (bank, moment) if part)
        if alarmed and snapshot is not None and line.display:
            forms = (words, moment, "")
            words = next(
                (f for f in forms if len(alarm_lines(snapshot, room - len(f) - 2)) < 2), ""
            )
        width = len(words) + 2
        if line.shown != words and len(line.shown) != len(words):
            line.styles.width = width
        line.show(words)
        return room - width if line.display else room

    def _priority(self, alarms: list[AlarmView]) -> None:
        """Colour the top by the worst alarm that is true now; plainer once all are seen."""
        highest = worst(alarms)
        top = self.query_one("#top")
        wanted = {name: highest is priority for priority, name in _PRIORITY_CLASSES.items()}
        wanted["unseen"] = any(unseen(alarm) for alarm in alarms)
        wanted["seen"] = bool(alarms) and not any(unseen(alarm) for alarm in alarms)
        for name, on in wanted.items():
            if top.has_class(name) is not on:
                top.set_class(on, name)

    def _note(self, notes: list[str], first: str = "") -> None:
        """What to do first, else the first of the notes, and how many more there are. What to do
        is never cut: where there is no room for it, it is left to the screen of alarms."""
        width = self.size.width - 2
        most = _MOST_OF_NOTE if self.size.height >= LITTLE else 1
        more = f"  +{len(notes)}" if notes else ""
        rows = wrapped(first + more, width, "") if first else []
        if not first or len(rows) > most:
            more = f"  +{len(notes) - 1}" if len(notes) > 1 else ""
            rows = [cut(notes[0], width - len(more)) + more] if notes else []
        self._note_rows(rows)

    def _note_rows(self, rows: list[str]) -> None:
        line = self._line("note")
        line.mark("nothing", not rows)
        line.rows(max(len(rows), 1))
        line.show("\n".join(rows))

    # The stage and why.

    def _stage(self, view: View, bank: BankView | None) -> None:
        stage, why = self._line("stage"), self._line("why")
        width, wide = self.size.width - 2, self.size.width >= 60
        reasons_rows = self._reasons
        owner = self._owner(bank, width)
        room = width - len(owner)
        why.rows(reasons_rows)
        if bank is None:
            stage.show(Content.assemble(owner, (say.STAGE_NOT_KNOWN, "bold")))
            why.show("")  # the top says why
            return
        if say.past(bank):
            forms = (say.stage_named(bank), say.brief_stage(bank))
            words = first_fitting(room, *map(say.sentence, forms))
            stage.show(Content.assemble(owner, (words, "bold")))
            why.show(fitted(say.sentence(say.past_words(bank)), width, reasons_rows))
            return
        since = say.since(bank.stage.since_seconds, view.now, view.clock)
        name, sure = say.STAGE_WORD[bank.stage.stage].capitalize(), say.certainty(bank.stage)
        ways = [sure, say.brief_certainty(bank.stage), probability(bank.stage.probability)]
        ways = [*(f"{way}, {since}" for way in ways[:2] if wide), *ways]
        rest = first_fitting(room - len(name), *(f", {way}" for way in ways))
        stage.show(Content.assemble(owner, (name, "bold"), rest))
        reasons = say.why_now(bank)
        means = say.sentence(say.STAGE_MEANS[bank.stage.stage] if wide else since)
        # What the stage means gives way to why it is believed.
        fits = not wide or len(means) + len(reasons) < 2 * width - 8
        words = f"{means} {reasons}" if fits and reasons_rows > 1 else reasons
        why.show(fitted(words, width, reasons_rows))

    def _owner(self, bank: BankView | None, width: int) -> str:
        """Whose stage it is, where there are several banks and the top has no room to say it."""
        where = self._line("where")
        if bank is None or len(self._board.feed.site.banks) < 2:
            return ""
        if where.display and bank.id in str(where.shown):
            return ""
        shortest = len(say.STAGE_WORD[bank.stage.stage]) + len(probability(1.0)) + 2
        return f"{clipped(bank.id, max(width - shortest - 2, LEAST_NAME))}: "

    # Three large figures, or the same in words where there is no room for them.

    def _figures(self, view: View, bank: BankView | None) -> None:
        if bank is None or say.past(bank):
            known = bank is not None and not say.unheard(bank)
            soc = give_or_take(bank.charge.soc) if bank is not None and known else None
            past = say.was(soc) if soc else ""
            self._figure("soc", (), say.CHARGED, past)
            self._figure("wait", (), say.UNTIL_FULL, "")
            self._flow(view, bank)
            return
        charge = give_or_take(bank.charge.soc)
        parts: Parts = ((str(charge.percent), "%"),) if charge else ()
        doubt = bank.charge.soc.reason
        if charge:
            room = self._line("soc-doubt").size.width
            doubt = first_fitting(room, charge.doubt, charge.brief_doubt) if room else charge.doubt
        self._figure("soc", parts, say.CHARGED, doubt)
        reply, label, _ = say.wanted(bank)
        moment = say.ends(reply, view.now, view.clock)
        labels = say.timed_labels(label, moment)
        room = self.query_one("#wait-label").size.width
        self._figure(
            "wait",
            reply.parts,
            first_fitting(room, *labels) if room else label,
            reply.between if reply.parts else reply.reason,
        )
        self._flow(view, bank)

    def _flow(self, view: View, bank: BankView | None) -> None:
        if bank is None or say.blind(bank):
            self._figure("flow", (), say.CURRENT, "" if bank is None else say.NO_READING)
            return
        figure = bank.amps.figure
        parts: Parts = () if figure is None else ((sign(figure) + amps_number(figure), "A"),)
        warmth = temperature(bank.celsius.figure, view.fahrenheit)
        electric = f"{volts(bank.volts.figure)}   {warmth}"
        self._figure("flow", parts, say.direction(bank), electric)

    def _figure(self, name: str, parts: Parts, label: str, doubt: str) -> None:
        plain = self._board.signs is Signs.LETTERS
        self.query_one(f"#{name}", Figure).show(parts, plain)
        self._line(f"{name}-label").show(label)
        self._line(f"{name}-doubt").show(doubt)

    def _short(self, view: View, bank: BankView | None) -> None:
        line = self._line("short")
        if not line.display:
            return
        if bank is None:
            line.rows(1)
            line.show("")
            return
        width = max(line.size.width, 20)
        reply = say.wanted(bank)[0]
        wait, brief_wait = (
            form(bank, view.now, view.clock) for form in (say.waiting_time, say.brief_wait)
        )
        if len(wait) > width and self.size.height < LITTLE:
            # Without the clock time, which the wait itself tells.
            wait = say.waiting_time(bank, view.now, view.clock._replace(offset=None))
        full = [say.charged(bank), wait]
        brief = [say.brief_charged(bank), brief_wait]
        if not say.past(bank):
            for words in (full, brief):
                words += [f"  {reply.between}"] if reply.between else []
        if not say.blind(bank):
            full.append(say.electric(bank, view.fahrenheit))
            brief.append(say.brief_electric(bank, view.fahrenheit))
        told = [wrapped(words, width) for words in full]
        if sum(map(len, told)) > self._room() or max(map(len, told)) > _MOST_ROWS:
            told = [wrapped(words, width) for words in brief]
        lines = [row for rows in told for row in rows]
        line.rows(len(lines))
        line.show("\n".join(lines))

    @property
    def _heads(self) -> int:
        """Rows of the alarm line and of the note below it."""
        lines = [self._line("alarm"), self._line("note")]
        return sum(
            len(str(line.shown).split("\n")) for line in lines if not line.has_class("nothing")
        )

    @property
    def _reasons(self) -> int:
        """Rows that say why: one where there is little room, or where an alarm takes it."""
        height = self.size.height
        return 1 if height < LITTLE or (height < SHORT and self._heads > _MOST_OF_NOTE) else 2

    def _room(self) -> int:
        """Rows that are left for the figures in words, before sources and trend."""
        fixed = 2  # stage, keys
        return self.size.height - fixed - self._heads - self._reasons - len(self.query(ReplayBar))

    def _sources(self, view: View, bank: BankView | None) -> None:
        line = self._line("sources")
        if bank is None or view.snapshot is None:
            line.show("")
            return
        width = line.size.width or self.size.width - 2
        sources = view.snapshot.sources
        if self.has_class("-narrow") or self.has_class("-short"):
            lines = short_source_lines(bank, sources, width)
        else:
            lines = source_lines(bank, sources, width, self._board.signs)
        line.rows(len(lines))
        line.show("\n".join(lines))

    # The last hours.

    def _trend(self, view: View) -> None:
        """Ask for the trend again only when a column has completed or the view changed."""
        chart, board = self.query_one(TrendChart), self._board
        if view.snapshot is None or not view.snapshot.banks or not chart.columns:
            return
        bank = view.snapshot.banks[view.bank_index % len(view.snapshot.banks)].id
        column = math.floor(view.now / (board.window_seconds / chart.columns))
        # An attached feed may give an older chart first: the newer one is drawn once it is here.
        answers = getattr(board.feed, "answers", 0)
        look = (column, answers, board.signs, view.clock)
        wanted = (bank, board.window_seconds, chart.columns, *look)
        if wanted != self._drawn:
            self._drawn = wanted
            trend = board.feed.trend(bank, board.window_seconds, chart.columns)
            chart.show(trend, board.signs, view.clock)
