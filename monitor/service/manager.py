"""Words for the service manager: ready, alive, ending (sd_notify(3), without its library).

The watchdog is fed only while the service does its work: something new went through the recorder
and the engine since the last time, and every reader has gone round its loop. A device that is
silent is no hang (its reader says so, and goes on trying); a disk that never returns, or an adapter
that is stuck, is one, and the service manager starts the service anew.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import socket
from collections.abc import Callable, Mapping
from typing import Final

from adapters.supervise import LONGEST_WAIT_SECONDS, STUCK_SECONDS
from monitor.pulse import Pulse

#: A reader's round at its longest: a poll given up, closing and waiting; some more for a busy
#: machine (our choice).
ROUND_SECONDS: Final = STUCK_SECONDS + 2.0 * LONGEST_WAIT_SECONDS + 5.0


def tell_manager(words: str, environ: Mapping[str, str] = os.environ) -> bool:
    """Send `READY=1` and the like; False where nobody asked for it."""
    address = environ.get("NOTIFY_SOCKET", "")
    if not address.startswith(("/", "@")):
        return False
    if address[0] == "@":  # an abstract address begins with a zero byte
        address = "\0" + address[1:]
    with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as out:
        out.settimeout(1.0)
        out.connect(address)
        out.sendall(words.encode())
        return True
    return False


def watchdog_seconds(environ: Mapping[str, str] = os.environ) -> float | None:
    """How often the manager wants to hear of us; None where it does not."""
    try:
        microseconds = int(environ["WATCHDOG_USEC"])
        ours = int(environ.get("WATCHDOG_PID", os.getpid())) == os.getpid()
    except (KeyError, ValueError):
        return None
    return microseconds / 1e6 if ours and microseconds > 0 else None


class Watchdog:
    """Decides whether the service is alive; `pulse` tells how far it has come."""

    def __init__(self, pulse: Callable[[], Pulse]) -> None:
        self._pulse = pulse
        self._taken = -1

    def alive(self) -> str:
        """Empty where everything advances, else what does not, in words."""
        pulse = self._pulse()
        if pulse.taken == self._taken:
            return "nothing was recorded since the last look"
        self._taken = pulse.taken
        for reader in pulse.readers:
            if reader.age_seconds > ROUND_SECONDS + reader.period_seconds:
                return f"the reader of {reader.device} is stuck for {reader.age_seconds:.0f} s"
        return ""


async def feed_watchdog(
    watchdog: Watchdog,
    seconds: float,
    say: Callable[[str], None],
    environ: Mapping[str, str] = os.environ,
) -> None:
    """Tell the manager that we are alive, thrice in the time it allows, as long as it is true."""
    told = ""
    while True:
        await asyncio.sleep(seconds / 3.0)
        trouble = watchdog.alive()
        if not trouble:
            await asyncio.to_thread(tell_manager, "WATCHDOG=1", environ)
        elif trouble != told:
            say(f"the watchdog is not fed: {trouble}")
        told = trouble
