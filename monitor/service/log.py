"""The service's log: one line for each event, on stderr.

Under a service manager every line begins with its level in the form of sd-daemon(3), `<4>`, and
without the clock, which the journal knows. Elsewhere it begins with the local time.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from datetime import datetime
from typing import Final, TextIO

from monitor.engine.snapshot import Event, EventKind, Priority
from monitor.words.journal import event_words

#: Levels of syslog (RFC 5424): critical, error, warning, notice, informational.
CRITICAL, ERROR, WARNING, NOTICE, INFORMATIONAL = 2, 3, 4, 5, 6

#: A high alarm is to be seen to now, a low one today.
_LEVEL: Final = {
    Priority.HIGH: CRITICAL,
    Priority.MEDIUM: WARNING,
    Priority.LOW: NOTICE,
    Priority.NONE: INFORMATIONAL,
}


def managed(environ: Mapping[str, str]) -> bool:
    """Whether a service manager reads what is written."""
    return "JOURNAL_STREAM" in environ or "INVOCATION_ID" in environ


class Log:
    """Writes lines. `levels` as a service manager wants them."""

    def __init__(self, levels: bool, out: TextIO | None = None) -> None:
        self._levels = levels
        self._out = out

    def say(self, words: str, level: int = INFORMATIONAL) -> None:
        line = " ".join(words.split())
        lead = f"<{level}>" if self._levels else f"{datetime.now():%Y-%m-%d %H:%M:%S} "
        # Whoever read it may be gone: that must not end the service.
        try:
            print(lead + line, file=self._out or sys.stderr, flush=True)
        except (OSError, ValueError):
            return

    def event(self, event: Event) -> None:
        level = _LEVEL[event.priority] if event.kind is EventKind.ALARM else INFORMATIONAL
        self.say(event_words(event), level)
