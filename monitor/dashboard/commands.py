"""The way out of the list of commands, for keyboards without Esc: always there, whatever is typed.

The list itself is Textual's; its commands come from `actions` through the application.
"""

from __future__ import annotations

from typing import Final

from textual.command import Hit, Hits, Provider

from monitor.words.keys import CLOSE

#: Below every command that the words typed may mean.
_LAST: Final = 1e-6


def close() -> None:
    """Taking a command closes the list; this one does nothing else."""


class WayOut(Provider):
    """Offers to close the list where no word typed would."""

    async def search(self, query: str) -> Hits:
        if self.matcher(query).match(CLOSE.hint) <= 0:
            yield Hit(_LAST, CLOSE.hint, close, help=CLOSE.words)
