"""Devices: how each configured link is heard, and what is plugged in and could be read."""

from __future__ import annotations

import math
from typing import ClassVar, Final

from textual.binding import BindingType
from textual.worker import Worker, WorkerState

from monitor.dashboard.actions import Hint, Own, leave, own_bindings, own_hints
from monitor.dashboard.screens.page import KEYS as PAGE_KEYS
from monitor.dashboard.screens.page import TURNING, PageScreen
from monitor.dashboard.view import View
from monitor.feed import Counting
from monitor.words.devices import HEADING, Found, device_sections
from monitor.words.keys import DEVICES
from monitor.words.sentences import as_of


def found() -> Found:
    """Look at this machine; may take a while on a board with many ports."""
    from adapters.installed import installed
    from monitor.mishaps import in_one_line
    from monitor.plugged_in import can_interfaces, serial_ports

    try:
        return Found(serial_ports(), can_interfaces(), tuple(installed()))
    except Exception as problem:
        return Found((), (), (), in_one_line(problem)[0])


#: A column of counts that changes under the eyes cannot be read, and a slow line cannot carry it:
#: seconds between two writings while no link comes or goes (our choice).
STANDS_SECONDS: Final = 5.0
KEYS: Final = (PAGE_KEYS[0], Own("l", "look", DEVICES["look"], 3), *TURNING, leave(2))


class DevicesScreen(PageScreen):
    """Links follow the feed. Ports are looked for in a thread of its own, when the screen opens
    and when asked again: the screen never waits for them."""

    HEADING = HEADING
    HINTS: ClassVar[list[Hint]] = own_hints(KEYS)
    BINDINGS: ClassVar[list[BindingType]] = own_bindings(KEYS)

    def __init__(self) -> None:
        super().__init__()
        self._found: Found | None = None
        self._view: View | None = None
        self._key: tuple[object, ...] | None = None

    def on_mount(self) -> None:
        super().on_mount()
        self.action_look()

    def action_look(self) -> None:
        self._found = None
        self.run_worker(found, name="ports", thread=True, exclusive=True, exit_on_error=False)
        self._write()

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        if event.state is WorkerState.SUCCESS:
            result = event.worker.result
            self._found = result if isinstance(result, Found) else None
            self._write()

    def show(self, view: View) -> None:
        super().show(view)
        self._view = view
        links = view.snapshot.links if view.snapshot is not None else ()
        heard = tuple((link.device, link.up, link.reason) for link in links)
        key = (
            view.stalled != "",
            heard,
            math.floor(view.now / STANDS_SECONDS),
            view.clock,
            view.fahrenheit,
        )
        if key != self._key:
            self._key = key
            self._write()

    def _write(self) -> None:
        view, feed = self._view, self.board.feed
        if view is None:
            return
        links = view.snapshot.links if view.snapshot is not None else ()
        counts = feed.link_counts() if isinstance(feed, Counting) else ()
        then = ""
        if view.stalled:
            then = as_of(view.clock.at(view.now, view.now) or "")
        self.write(device_sections(links, counts, self._found, view.now, then))
