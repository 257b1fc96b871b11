"""The figures at once: what is known already, on the terminal while the full screen is loading.

Loading the screen's toolkit takes half a second here and some seconds on a small board; asking a
service, or taking the first readings of a recording in, takes a part of that. The lines stand on
the alternate screen (ECMA-48 private mode 1049, as xterm documents it), which the toolkit then
takes over: nothing of them is left behind. Where no screen comes after all they are taken back, so
that the one line that says why stands on the terminal as it was.
"""

from __future__ import annotations

import contextlib
import gc
import os
import signal
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final, NoReturn, TextIO

from monitor.words.texts import OPENING, waiting

if TYPE_CHECKING:
    from datetime import tzinfo

    from monitor.config import Config
    from monitor.engine.snapshot import Snapshot
    from monitor.recorded import Recorded

#: To the alternate screen; then cleared, cursor home. Lines end as a raw terminal wants them.
_ENTER: Final = "\x1b[?1049h"
_CLEAR: Final = "\x1b[H\x1b[2J"
_LEAVE: Final = "\x1b[?1049l"

#: Nothing is said before every device was heard, or this long: it would be of missing figures.
HEARING_SECONDS: Final = 30.0
#: Nor is more of a recording taken in for its first figures: some 10 ms of the engine's time.
_MOST_INPUTS: Final = 100


class FirstLines:
    """What stands on a terminal until the screen does; without one (`out` is None), nothing."""

    def __init__(self, out: TextIO | None, size: os.terminal_size) -> None:
        # A terminal that tells no size is taken for the one that every terminal once was.
        self._out, self._columns, self._rows = out, size.columns or 80, size.lines or 24
        self._standing = False

    def say(self, text: str) -> None:
        """These lines, in place of those before."""
        if self._out is None:
            return
        lines = [line[: self._columns] for line in (*text.splitlines(), "", OPENING)]
        begin = _CLEAR if self._standing else _ENTER + _CLEAR
        self._standing = True
        self._out.write(begin + "\r\n".join(lines[: self._rows]))
        self._out.flush()

    def give_over(self) -> None:
        """The toolkit takes the terminal as it is, and gives it back."""
        self._standing = False

    def take_back(self) -> None:
        if self._out is not None and self._standing:
            self._standing = False
            self._out.write(_LEAVE)
            self._out.flush()


@contextlib.contextmanager
def first_lines(out: TextIO | None, size: os.terminal_size | None = None) -> Iterator[FirstLines]:
    """Lines for a terminal, taken back whatever goes wrong before a screen took it over."""
    if out is None or not out.isatty():
        yield FirstLines(None, size or os.terminal_size((0, 0)))
        return
    lines = FirstLines(out, size or os.get_terminal_size(out.fileno()))
    numbers = (signal.SIGTERM, signal.SIGHUP)
    before = {number: signal.signal(number, _leave) for number in numbers}
    try:
        yield lines
    finally:
        lines.take_back()
        for number, handler in before.items():
            signal.signal(number, handler)


@contextlib.contextmanager
def loading() -> Iterator[None]:
    """What is imported stays: looking for garbage among it takes a tenth of a start, or more."""
    swept = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if swept:
            gc.enable()


def on_terminal(wanted: bool = True) -> contextlib.AbstractContextManager[FirstLines]:
    """For the terminal that the screen is drawn on; in a browser it is a page that waits."""
    return first_lines(sys.stderr if wanted else None)


def _leave(number: int, frame: object) -> NoReturn:  # noqa: ARG001
    """Told to end while the toolkit loads: by the way that gives the terminal back."""
    raise SystemExit(128 + number)


def figures(snapshot: Snapshot, zone: tzinfo | None = None) -> str:
    """What `now` says."""
    from monitor.plain import now_text

    return now_text(snapshot, zone)


def waiting_for(config: Config) -> str:
    """Which banks, and the devices of which nothing was heard yet."""
    banks = ", ".join(bank.id for bank in config.site.banks)
    devices = ", ".join(device.settings.name for device in config.devices)
    return waiting(banks, devices)


def first_figures(recorded: Recorded) -> Snapshot:
    """A recording as it was when every device had been heard, or as soon as may be looked at."""
    from adapters.reading import Reading
    from monitor.engine.engine import Engine

    engine = Engine(recorded.site, recorded.state)
    unheard = {link.device for link in recorded.site.links}
    limit: float | None = None
    for count, value in enumerate(recorded.recording.inputs(), start=1):
        limit = value.seconds + HEARING_SECONDS if limit is None else limit
        if value.seconds > limit or count > _MOST_INPUTS:
            break
        engine.step(value)
        if isinstance(value, Reading):
            unheard.discard(value.device)
        if not unheard:
            break
    return engine.snapshot()
