"""When the wall clock of this machine may be believed, and when it was set.

A small board often has no clock battery: it starts in the past (its file system's last time, or a
year long gone) and learns the time later, from a network or a hand. Durations never depend on it:
they come from the steady clock. What is told of the wall clock is told as an offset, and only once
it may be believed, so that no figure is ever dated to a year before this program existed.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final

#: 1 January 2023, UTC: before this program existed. A clock that says so has not been set.
FIRST_YEAR: Final = 1_672_531_200.0
#: A wall clock that moved against the steady clock by more than this was set; drift and the
#: jitter of two reads are far smaller.
JUMP_SECONDS: Final = 0.5
#: A clock this little behind what was last known runs a little late; nothing more.
LATE_SECONDS: Final = 60.0
#: Boards without a battery start from a time kept on disk, hours old at most (common practice:
#: kept once an hour). A clock further behind was set on purpose: what was known before was wrong.
KEPT_SECONDS: Final = 86_400.0

_BOOT: Final = Path("/proc/sys/kernel/random/boot_id")


def boot_id() -> str:
    """Names this start of the machine; empty where the system does not say (never alike then)."""
    try:
        return _BOOT.read_text(encoding="ascii").strip()
    except (OSError, ValueError):
        return ""


class WallClock:
    """`offset` is Unix time less feed time as it is believed; None while it is not.

    `known` is the latest time that was ever known, before this start.
    """

    def __init__(
        self,
        now: Callable[[], float],
        wall: Callable[[], float],
        known: float | None = None,
        offset: float | None = None,
    ) -> None:
        self._now, self._wall, self._known = now, wall, known
        self.offset = offset
        self._set = False
        self._raw: float | None = None
        self.look()

    def look(self) -> bool:
        """Compare the clocks; whether there is news of the offset."""
        wall = self._wall()
        raw = wall - self._now()
        if self._raw is not None and abs(raw - self._raw) > JUMP_SECONDS:
            self._set = True
        self._raw = raw
        if not self._believed(wall):
            return False
        if self.offset is not None and abs(raw - self.offset) <= JUMP_SECONDS:
            return False
        self.offset = raw
        return True

    def _believed(self, wall: float) -> bool:
        if wall < FIRST_YEAR:
            return False
        if self._set or self._known is None:
            return True
        behind = self._known - wall
        return behind <= LATE_SECONDS or behind > KEPT_SECONDS


def missed_seconds(wall: float, known: float | None) -> float:
    """How long nobody looked, by the wall clock; 0 where it cannot say."""
    if known is None or wall < FIRST_YEAR:
        return 0.0
    return max(0.0, wall - known)
