"""The least that the screen's toolkit can show: what its first frame costs by itself."""

from __future__ import annotations

from typing import Any

from textual.app import App, ComposeResult
from textual.widgets import Static


class OneLine(App[Any]):
    """One line of text."""

    def compose(self) -> ComposeResult:
        yield Static("no alarm")


if __name__ == "__main__":
    OneLine().run(mouse=False)
