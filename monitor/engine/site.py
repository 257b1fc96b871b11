"""The site as a whole under watch: the wall clock.

Durations come from monotonic seconds alone; the wall clock only dates them. A jump is kept in
sight for ten minutes, then it is history.
"""

from __future__ import annotations

from typing import ClassVar, Final

#: A jump is in sight for so long (our choice: long enough to be noticed, too short to go stale).
SEEN_SECONDS: Final = 600.0
#: Offsets that differ by less are the same clock, disciplined (network time slews within this).
SAME_CLOCK: Final = 1.0


class SiteWatch:
    """`wall_offset` is Unix time less monotonic seconds, None until told."""

    KEPT: ClassVar[tuple[str, ...]] = ("wall_offset", "jump_seconds", "jumped_at")

    def __init__(self) -> None:
        self.wall_offset: float | None = None
        self.jump_seconds = 0.0
        self.jumped_at = 0.0

    def set_clock(self, seconds: float, wall_offset: float) -> float | None:
        """Take news of the clock; the seconds it jumped by, 0 the first time, None for no news."""
        before = self.wall_offset
        self.wall_offset = wall_offset
        if before is None:
            return 0.0
        jump = wall_offset - before
        if abs(jump) < SAME_CLOCK:
            return None
        self.jump_seconds = jump
        self.jumped_at = seconds
        return jump

    def look(self, seconds: float) -> None:
        """Once a minute: forget a jump that is history."""
        if self.jump_seconds and seconds - self.jumped_at > SEEN_SECONDS:
            self.jump_seconds = 0.0
