"""Told to end, the program ends: though nobody takes what it writes to the terminal.

A terminal whose other end reads nothing (a dead line, output held) blocks whoever writes to it, in
the middle of a screen, for ever. Where the way out is held up so, what waits in the terminal is
thrown away until it takes more (termios(3): tcflush, tcflow), and the ordinary way out is walked:
devices let go, what is recorded sealed. Only where that does not help, on a pipe that nobody reads,
is the program left from here, once what is recorded is on disk.
"""

from __future__ import annotations

import contextlib
import os
import select
import signal
import termios
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from typing import Final

#: Where lines and where screens are written to.
STDOUT: Final = 1
STDERR: Final = 2

#: What tells a program to end; on a screen Ctrl-C is a key, so that SIGINT is for lines alone.
SIGNALS: Final = (signal.SIGTERM, signal.SIGHUP)
SIGNALS_TO_LINES: Final = (*SIGNALS, signal.SIGINT)

#: A terminal that is merely slow gets so long to take the last screen (our choice: a line that
#: stalls so long has usually gone).
PATIENCE_SECONDS: Final = 1.5
#: One that takes nothing though it was emptied all this while never will; the longest end that is
#: wanted is 5 s.
HOPELESS_SECONDS: Final = 3.5
#: Between two looks; what is written meanwhile fits into what was emptied.
_LOOK_SECONDS: Final = 0.02


class Ending:
    """The end of a program that shows `feed` on `out`. A feed that records has `keep`: it puts
    everything on disk, from another thread, where the ordinary way out cannot be walked."""

    def __init__(self, out: int, feed: object) -> None:
        self._out, self._feed = out, feed
        self._status: int | None = None
        # A plain lock: a handler of a signal may open it whatever it broke into.
        self._shut = threading.Lock()
        self._shut.acquire()
        threading.Thread(target=self._see_to_it, name="ending", daemon=True).start()

    def begin(self, status: int = 0) -> None:
        """The program is on its way out: see to it that it gets there."""
        if self._status is None:
            self._status = status
            self._shut.release()

    @contextlib.contextmanager
    def at(self, numbers: Sequence[signal.Signals], told: Callable[[], object]) -> Iterator[None]:
        """Call `told` at each of these signals, whatever the main thread waits for just then."""

        def handle(number: int, frame: object) -> None:  # noqa: ARG001
            self.begin(128 + number)  # the status that a shell shows for it
            told()

        before = {number: signal.signal(number, handle) for number in numbers}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    def _see_to_it(self) -> None:
        self._shut.acquire()
        # In the background of a shell emptying the terminal would stop the whole program.
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGTTOU})
        began = time.monotonic()
        time.sleep(PATIENCE_SECONDS)
        while not (held := self._held()) or time.monotonic() - began < HOPELESS_SECONDS:
            if held:
                self._throw_away()
            time.sleep(_LOOK_SECONDS)
        keep = getattr(self._feed, "keep", None)
        if keep is not None:
            keep()
        os._exit(self._status or 0)

    def _held(self) -> bool:
        """Whether a write would wait."""
        try:
            return not select.select([], [self._out], [], 0)[1]
        except (OSError, ValueError):
            return False  # gone, or closed: a write fails at once

    def _throw_away(self) -> None:
        # Emptying alone wakes nobody who waits in a write (Linux 6.18); holding and going on does.
        with contextlib.suppress(OSError, termios.error):
            termios.tcflush(self._out, termios.TCOFLUSH)
            try:
                termios.tcflow(self._out, termios.TCOOFF)
            finally:
                termios.tcflow(self._out, termios.TCOON)
