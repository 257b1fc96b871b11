"""The way out of the list of commands, for keyboards without Esc: always there, whatever is typed,
and first of all where nothing is, or the letter that goes back everywhere else.

The list itself is Textual's; its commands come from `actions` through the application. Imported
when it is opened, not before the first screen.
"""

from __future__ import annotations

import math
from typing import Final

from textual.app import get_system_commands_provider
from textual.command import CommandPalette, Hit, Hits, Provider

from monitor.words.keys import BACK_KEY, CLOSE, WHICH_COMMAND

#: Below every command that the words typed may mean, and above.
_LAST: Final = 1e-6
_FIRST: Final = math.inf


def close() -> None:
    """Taking a command closes the list; this one does nothing else."""


class WayOut(Provider):
    """Offers to close the list, whatever is typed."""

    async def discover(self) -> Hits:
        yield self._hit(_FIRST)

    async def search(self, query: str) -> Hits:
        meant = query.strip().lower() == BACK_KEY
        yield self._hit(_FIRST if meant else max(self.matcher(query).match(CLOSE.hint), _LAST))

    def _hit(self, score: float) -> Hit:
        return Hit(score, CLOSE.hint, close, help=CLOSE.words)


class CommandMenu(CommandPalette):
    """The list, asked for in our words; without the pictogram, which few terminals' fonts have."""

    DEFAULT_CSS = """
    CommandMenu SearchIcon { display: none; }
    CommandMenu Input > .input--placeholder { color: $quiet; }
    CommandMenu #--input, CommandMenu CommandList { border: none; }
    CommandMenu > .command-palette--help-text { color: $foreground; text-style: none; }
    """

    def __init__(self) -> None:
        # By this id Textual knows that it is open.
        super().__init__(
            (get_system_commands_provider, WayOut),
            placeholder=WHICH_COMMAND,
            id="--command-palette",
        )
