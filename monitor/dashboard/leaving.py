"""The way out of the screen: from its first step on nothing is opened, drawn or told any more.

Keys that were typed ahead are in the queues when a person leaves, and screens are taken apart while
they are still being made: neither may be seen.
"""

from __future__ import annotations

import asyncio
from collections.abc import Mapping

from rich.console import RenderableType
from textual.actions import ActionParseResult
from textual.app import App
from textual.dom import DOMNode

from monitor.told_to_end import Ending


class Leaving(App[int]):
    """The part of the application that leaves."""

    #: What sees to the end where there is a terminal; None in tests and for pictures.
    ending: Ending | None = None
    _leaving = _told = False
    _running_in: asyncio.AbstractEventLoop | None = None

    @property
    def leaving(self) -> bool:
        """Whether the way out was begun."""
        return self._leaving

    def exit(
        self,
        result: int | None = None,
        return_code: int = 0,
        message: RenderableType | None = None,
    ) -> None:
        """Leave. Nothing is drawn from here on: the screens are taken apart while the feed still
        speaks, and would look like a failure of it."""
        self._leaving = True
        if self.ending is not None:
            self.ending.begin()
        super().exit(result, return_code, message)

    def told_to_end(self) -> None:
        """By a signal, which may break into anything, and come before the screen stands."""
        self._told = True
        if self._running_in is not None and not self._running_in.is_closed():
            self._running_in.call_soon_threadsafe(self.exit, 0)

    async def run_action(
        self,
        action: str | ActionParseResult,
        default_namespace: DOMNode | None = None,
        namespaces: Mapping[str, DOMNode] | None = None,
    ) -> bool:
        """What any key of any screen does; nothing once the way out was begun."""
        if self._leaving:
            return True
        return await super().run_action(action, default_namespace, namespaces)

    def _handle_exception(self, error: Exception) -> None:
        """A screen that was opened just before the way out finds none of its parts when its turn
        comes (the library gives a closing screen none): no failure, and nothing to read."""
        if not self._leaving:
            super()._handle_exception(error)
