"""Room on the disk that records: looked at once a minute, told as a link of the tool's own.

A disk that refuses is told by the recorder; this one is told before it does. Going down below one
limit and coming up above another keeps a disk at the limit from being told again and again.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Final

from adapters.reading import LinkState, OwnLink

#: A device polled every second fills about 12 MB a day: this is two weeks of it (our choice).
LEAST_BYTES: Final = 200_000_000
ENOUGH_BYTES: Final = 250_000_000
LOOK_SECONDS: Final = 60.0


def free_bytes(directory: Path) -> int:
    return shutil.disk_usage(directory).free


class DiskRoom:
    """`look` gives a `LinkState` whenever the disk became nearly full, or has room again."""

    def __init__(self, directory: Path, free: Callable[[Path], int] = free_bytes) -> None:
        self._directory = directory
        self._free = free
        self._looked: float | None = None
        self._enough = True

    def look(self, seconds: float) -> LinkState | None:
        if self._looked is not None and seconds - self._looked < LOOK_SECONDS:
            return None
        self._looked = seconds
        try:
            free = self._free(self._directory)
        except OSError:
            return None  # no longer there: what cannot be written is the recorder's to tell
        before = self._enough
        self._enough = free >= (LEAST_BYTES if before else ENOUGH_BYTES)
        if self._enough is before:
            return None
        least = LEAST_BYTES / 1e6
        words = f"{self._directory}: {free / 1e6:.0f} MB free"
        reason = words if self._enough else f"{words}, less than {least:.0f} MB"
        return LinkState(seconds, OwnLink.DISK, self._enough, reason)
