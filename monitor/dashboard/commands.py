"""The way out of the list of commands, for keyboards without Esc: always there, whatever is typed.

The list itself is Textual's; its commands come from `actions` through the application. Imported
when it is opened, not before the first screen.
"""

from __future__ import annotations

from typing import Final

from textual.app import get_system_commands_provider
from textual.command import CommandPalette, Hit, Hits, Provider

from monitor.words.keys import CLOSE, WHICH_COMMAND

#: Below every command that the words typed may mean.
_LAST: Final = 1e-6


def close() -> None:
    """Taking a command closes the list; this one does nothing else."""


class WayOut(Provider):
    """Offers to close the list where no word typed would."""

    async def search(self, query: str) -> Hits:
        if self.matcher(query).match(CLOSE.hint) <= 0:
            yield Hit(_LAST, CLOSE.hint, close, help=CLOSE.words)


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
