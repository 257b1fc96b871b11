"""One writer to a record: whoever comes second is told who was first.

The lock is the system's own (`flock`): it goes with the process, however that ends.
"""

from __future__ import annotations

import contextlib
import errno
import fcntl
import os
from pathlib import Path
from typing import Final

from replay.sealed_lines import CaptureError

LOCK_NAME: Final = "lock"


class Lock:
    """Holds a directory until `let_go`; CaptureError where somebody else does."""

    def __init__(self, directory: Path) -> None:
        path = directory / LOCK_NAME
        try:
            self._file = _opened(path)
        except OSError as error:
            raise CaptureError(f"{path}: cannot be made ({error.strerror or error})") from None
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            who = os.pread(self._file, 64, 0).decode("ascii", "replace").strip() or "another"
            os.close(self._file)
            raise CaptureError(
                f"{directory}: process {who} records into it already; "
                "stop that one first, or choose another directory"
            ) from None
        # who has it is said for people only; a full disk must not keep anybody from starting
        with contextlib.suppress(OSError):
            os.ftruncate(self._file, 0)
            os.pwrite(self._file, f"{os.getpid()}\n".encode(), 0)

    def let_go(self) -> None:
        if self._file >= 0:
            os.close(self._file)
            self._file = -1


def _opened(path: Path) -> int:
    """To write into; on a disk that is read-only just now, to lock alone."""
    try:
        return os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
    except OSError as error:
        if error.errno != errno.EROFS:
            raise
        return os.open(path, os.O_RDONLY | os.O_CLOEXEC)
