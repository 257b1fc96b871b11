"""What the record needs done beside acquisition: a thread that does one thing after another.

Packing a day or writing the index takes a second or more on a small board, and must never hold up
a reading. Jobs are done in the order in which they were given; one that fails is told in a line
and the next one is done all the same.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from typing import Final, Protocol

from replay.sealed_lines import CaptureError

Job = Callable[[], None]

#: So long a stopping program waits for what is being done; all of it can be done at the next start.
FAREWELL_SECONDS: Final = 10.0


class Worker(Protocol):
    """Does jobs in order. `trouble` is a line on the newest that failed, None after a good one."""

    trouble: str | None

    def do(self, job: Job) -> None: ...
    def finish(self) -> None: ...


class AtOnce:
    """Does each job when it is given: for tests, and where nobody waits."""

    def __init__(self) -> None:
        self.trouble: str | None = None

    def do(self, job: Job) -> None:
        self.trouble = tried(job)

    def finish(self) -> None: ...


class Beside:
    """Does jobs in a thread of its own."""

    def __init__(self) -> None:
        self.trouble: str | None = None
        self._jobs: queue.SimpleQueue[Job | None] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None

    def do(self, job: Job) -> None:
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="history", daemon=True)
            self._thread.start()
        self._jobs.put(job)

    def finish(self) -> None:
        """Wait for what was given, but not for ever."""
        if self._thread is not None:
            self._jobs.put(None)
            self._thread.join(FAREWELL_SECONDS)
            self._thread = None

    def _work(self) -> None:
        while (job := self._jobs.get()) is not None:
            self.trouble = tried(job)


def tried(job: Job) -> str | None:
    """Do a job; what went wrong, in one line."""
    try:
        job()
    except CaptureError as error:
        return str(error)
    except OSError as error:
        return f"{error.filename or 'the record'}: {error.strerror or error}; check the disk"
    except Exception as error:  # the record must not end because a job met what nobody thought of
        return f"the record: a fault in this program: {type(error).__name__}: {error}"
    return None
