"""What the screens with text to read have in common: pages turned by plain letters."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import Screen

from monitor.dashboard.view import View
from monitor.dashboard.widgets.alarm_bar import AlarmBar
from monitor.dashboard.widgets.hints import Hint, Hints
from monitor.dashboard.widgets.line import Line
from monitor.words.texts import Section


class Text(Line):
    """As many rows as the text needs."""

    DEFAULT_CSS = """
    Text { height: auto; text-wrap: wrap; text-overflow: fold; }
    """

    def show(self, text: Content | str) -> bool:
        changed = super().show(text)
        if changed:
            self.refresh(layout=True)
        return changed


class PageScreen(Screen[None]):
    """The alarm line, a heading, text in pages, and the keys that turn them; a subclass says what
    there is."""

    HEADING: ClassVar[str] = ""
    HINTS: ClassVar[list[Hint]] = [
        ("x", "back", 1),
        ("n", "next page", 2),
        ("p", "page before", 3),
        ("q", "quit", 4),
    ]
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("x,escape", "back", "back", show=False),
        Binding("n,space", "next_page", "next page", show=False),
        Binding("p", "page_before", "page before", show=False),
        Binding("t", "app.next_theme", "next colours", show=False),
        Binding("q", "app.leave", "leave the program", show=False),
    ]
    AUTO_FOCUS = None

    DEFAULT_CSS = """
    PageScreen { layout: vertical; }
    PageScreen #heading { padding: 0 1; text-style: bold; margin-bottom: 1; }
    PageScreen VerticalScroll { height: 1fr; padding: 0 1; scrollbar-size-vertical: 1; }
    PageScreen.-narrow #heading { margin-bottom: 0; }
    """

    def compose(self) -> ComposeResult:
        yield AlarmBar(id="alarm")
        yield Line(id="heading")
        with VerticalScroll(id="pages", can_focus=False):
            yield Text(id="text")
        yield Hints(self.HINTS, id="hints")

    def on_mount(self) -> None:
        self.query_one("#heading", Line).show(self.HEADING)

    def show(self, view: View) -> None:
        self.query_one(AlarmBar).draw(view.snapshot, view.stalled, self.size.width)

    def write(self, sections: list[Section]) -> None:
        """Show sections: a bold heading each, then its lines."""
        parts: list[Content | str | tuple[str, str]] = []
        for section in sections:
            if parts:
                parts.append("\n")
            if section.heading:
                parts += [(section.heading, "bold"), "\n"]
            parts += [f"{line}\n" for line in section.lines]
        self.query_one("#text", Text).show(Content.assemble(*parts))

    def action_back(self) -> None:
        self.dismiss()

    def action_next_page(self) -> None:
        self.query_one("#pages", VerticalScroll).scroll_page_down(animate=False)

    def action_page_before(self) -> None:
        self.query_one("#pages", VerticalScroll).scroll_page_up(animate=False)
