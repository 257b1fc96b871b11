"""What the screens with text to read have in common: pages turned by plain letters."""

from __future__ import annotations

from typing import ClassVar, Final, Self, cast

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.geometry import Region
from textual.screen import Screen

from monitor.dashboard.actions import Hint, Own, leave, own_bindings, own_hints
from monitor.dashboard.view import Board, View
from monitor.dashboard.widgets.alarm_bar import AlarmBar
from monitor.dashboard.widgets.hints import Hints
from monitor.dashboard.widgets.line import Line
from monitor.dashboard.widgets.replaybar import ReplayBar
from monitor.engine.snapshot import BankView
from monitor.words.degrees import told_in
from monitor.words.fitting import clipped, wrapped
from monitor.words.keys import BACK, PAGE
from monitor.words.sentences import bank_id, bank_name
from monitor.words.texts import Section

#: What turns pages.
TURNING: Final = (
    Own("n,space", "next_page", PAGE["next_page"], 2),
    Own("p", "page_before", PAGE["page_before"], 3),
)
KEYS: Final = (Own("x,escape", "back", BACK, 1), *TURNING, leave(4))

#: Columns from which a heading has room for what the bank is.
FULL_NAME: Final = 60


class Text(Line):
    """As many rows as the text needs. A new layout only where their number changes, and of rows
    that stay in their places only those are painted that changed: this costs a third."""

    CUTS = False

    DEFAULT_CSS = """
    Text { height: auto; text-wrap: wrap; text-overflow: fold; }
    """

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        self._changed: tuple[Region, ...] = ()
        super().__init__(id=id, classes=classes)

    def show(self, text: Content | str) -> bool:
        before, after = _lines(self.shown), _lines(text)
        width = self.size.width
        in_place = len(before) == len(after) and all(
            line.cell_length <= width for line in (*before, *after)
        )
        if in_place:
            pairs = enumerate(zip(before, after, strict=True))
            self._changed = tuple(
                Region(0, row, width, 1) for row, (was, now) in pairs if not was.is_same(now)
            )
        changed = super().show(text)
        self._changed = ()
        if changed and not in_place:
            self.refresh(layout=True)
        return changed

    def refresh(
        self,
        *regions: Region,
        repaint: bool = True,
        layout: bool = False,
        recompose: bool = False,
    ) -> Self:
        """What is painted anew while a text takes the place of another: the rows that differ."""
        return super().refresh(
            *(regions or self._changed), repaint=repaint, layout=layout, recompose=recompose
        )


def _lines(text: Content | str) -> list[Content]:
    return (Content(text) if isinstance(text, str) else text).split("\n", allow_blank=True)


#: Longer lines are hard to read, and blanks beside them cost a slow line as much as words.
LONGEST_LINE: Final = 80


class PageScreen(Screen[None]):
    """The alarm line, a heading, text in pages, and the keys that turn them; a subclass says what
    there is."""

    HEADING: ClassVar[str] = ""
    HINTS: ClassVar[list[Hint]] = own_hints(KEYS)
    BINDINGS: ClassVar[list[BindingType]] = own_bindings(KEYS)
    AUTO_FOCUS = None

    DEFAULT_CSS = """
    PageScreen { layout: vertical; }
    PageScreen #heading { padding: 0 1; text-style: bold; margin-bottom: 1; }
    PageScreen VerticalScroll { height: 1fr; padding: 0 1; scrollbar-size-vertical: 1; }
    PageScreen #pages Text { max-width: 80; }
    PageScreen.-narrow #heading { margin-bottom: 0; }
    """

    def compose(self) -> ComposeResult:
        yield AlarmBar(id="alarm")
        yield Line(id="heading")
        with VerticalScroll(id="pages", can_focus=False):
            yield Text(id="text")
        yield Hints(self.HINTS, id="hints")
        if self.board.feed.player is not None:
            yield ReplayBar(id="replay")

    def __init__(self) -> None:
        super().__init__()
        self._sections: list[Section] = []
        self._fahrenheit = False

    @property
    def board(self) -> Board:
        return cast(Board, self.app)

    @property
    def room(self) -> int:
        """Columns that text may use; one is left for the bar that shows the place in it."""
        return min(max(self.size.width - 3, 20), LONGEST_LINE)

    def on_mount(self) -> None:
        self.query_one("#heading", Line).show(self.HEADING)
        pages = self.query_one("#pages", VerticalScroll)
        self.watch(pages, "show_vertical_scrollbar", self._offer)

    def on_resize(self) -> None:
        self.call_after_refresh(self._fit)

    @property
    def _whole(self) -> bool:
        """It may have been left between a change of size and what was to follow it."""
        return self.is_attached and bool(self.query(Text))

    def _fit(self) -> None:
        if not self._whole:
            return
        self.write(self._sections)
        self.board.redraw()

    def show(self, view: View) -> None:
        if self._fahrenheit is not view.fahrenheit:
            self.write(self._sections)
        self.query_one(AlarmBar).draw(view.snapshot, view.stalled, self.size.width)
        for bar in self.query(ReplayBar):
            bar.draw(self.board.feed.player, view.clock, self.board.signs, view.shown)

    def head_of(self, heading: str, bank: BankView) -> None:
        """The heading, with the bank in full where there is room."""
        several = len(self.board.feed.site.banks) > 1
        name = bank_name(bank) if self.size.width >= FULL_NAME else bank_id(bank)
        told = f"{heading}: {name}"
        if several and len(told) > self.size.width - 2:
            told = f"{heading}: {clipped(bank_id(bank), self.size.width - 4 - len(heading))}"
        self.query_one("#heading", Line).show(told)

    def write(self, sections: list[Section]) -> None:
        """Show sections: a bold heading each, then its lines, wrapped to the room there is."""
        self._sections, width = sections, self.room
        self._fahrenheit = self.board.fahrenheit
        if not self._whole:
            return
        parts: list[Content | str | tuple[str, str]] = []
        for section in told_in(sections, self._fahrenheit):
            if parts:
                parts.append("\n")
            if section.heading:
                parts += [(section.heading, "bold"), "\n"]
            parts += [f"{line}\n" for each in section.lines for line in wrapped(each, width)]
        self.query_one("#text", Text).show(Content.assemble(*parts))

    def _offer(self, more: bool) -> None:
        """Keys for pages only where there is more than one, as the bar beside them."""
        if not self._whole:
            return
        kept = [hint for hint in self.HINTS if more or hint[0] not in "np"]
        self.query_one(Hints).offer(kept)

    def action_back(self) -> None:
        self.dismiss()

    def action_next_page(self) -> None:
        self.query_one("#pages", VerticalScroll).scroll_page_down(animate=False)

    def action_page_before(self) -> None:
        self.query_one("#pages", VerticalScroll).scroll_page_up(animate=False)
