"""The bottom line: which keys do what; the least important go first where room is short."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from textual.content import Content
from textual.events import Click

from monitor.dashboard.actions import Hint
from monitor.dashboard.widgets.line import Line

#: Blanks between two hints.
BETWEEN: Final = 2


def fitting(hints: Iterable[Hint], width: int) -> list[Hint]:
    """The hints that fit `width`, in their given order, dropping the highest rank first."""
    kept = list(hints)
    while kept and sum(len(f"{key} {word}  ") for key, word, _ in kept) - 2 > width:
        worst = max(kept, key=lambda hint: hint[2])
        kept.remove(worst)
    return kept


class Hints(Line):
    """Keys in bold, what they do beside them."""

    DEFAULT_CSS = """
    Hints { dock: bottom; height: 1; color: $quiet; padding: 0 1; }
    """

    def __init__(self, hints: Iterable[Hint] = (), *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.hints = list(hints)

    def offer(self, hints: Iterable[Hint]) -> None:
        self.hints = list(hints)
        self._write()

    def on_resize(self) -> None:
        self._write()

    def on_click(self, event: Click) -> None:
        """A hint that is clicked does what its key does."""
        event.stop()
        at = event.x - self.styles.padding.left
        for key, word, _ in fitting(self.hints, self.size.width):
            width = len(f"{key} {word}")
            if 0 <= at < width:
                self.app.simulate_key(key)
                return
            at -= width + BETWEEN

    def _write(self) -> None:
        parts: list[Content | str | tuple[str, str]] = []
        for key, word, _ in fitting(self.hints, self.size.width):
            parts += ["  " if parts else "", (key, "bold $foreground"), f" {word}"]
        self.show(Content.assemble(*parts))
