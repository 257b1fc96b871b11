"""At which current did a source end absorption? Told from the minutes before it was noticed.

An end is noticed some time after it came: by then the current has dropped and the last reading says
nothing. So the means of short windows are kept, and the end is the window before the steepest drop
among them; where none dropped it is the newest window.
"""

from __future__ import annotations

from typing import ClassVar, Final

WINDOW_SECONDS: Final = 20.0
WINDOWS: Final = 30  # ten minutes: an end is noticed sooner or not at all (measured on two truths)
RECENT: Final = 12  # windows, four minutes: an end is noticed sooner, or its current is lost
RECENT_SECONDS: Final = RECENT * WINDOW_SECONDS
CHANGE: Final = 0.2  # of the current before, over two windows: less is the taper itself
BEFORE: Final = 5  # windows before the change, whose median is taken: a load's transient is none


class EndCurrent:
    """Net amps of one hold and what came after it, window by window."""

    KEPT: ClassVar[tuple[str, ...]] = ("_amp_seconds", "_seconds", "_windows")
    __slots__ = KEPT

    def __init__(self) -> None:
        self.clear()

    def clear(self) -> None:
        """Another hold begins."""
        self._windows: list[float] = []
        self._seconds = 0.0
        self._amp_seconds = 0.0

    def note(self, elapsed: float, amps: float) -> None:
        """`amps` flowed for `elapsed` seconds."""
        self._seconds += elapsed
        self._amp_seconds += amps * elapsed
        if self._seconds < WINDOW_SECONDS:
            return
        self._windows.append(self._amp_seconds / self._seconds)
        self._seconds = self._amp_seconds = 0.0
        if len(self._windows) > WINDOWS:
            del self._windows[0]

    @property
    def newest(self) -> float | None:
        """Net amps of the last full window; None before there is one."""
        return self._windows[-1] if self._windows else None

    @property
    def recent(self) -> float | None:
        """The median of the last windows: what flows whatever a load does for a moment."""
        return _median(self._windows[-BEFORE:]) if len(self._windows) >= BEFORE else None

    def amps(self) -> float | None:
        """Net amps before the largest change of the last minutes; None where nothing was noted."""
        windows = self._windows
        if not windows:
            return None
        last, largest = len(windows) - 1, 0.0
        for n in range(max(0, last - RECENT), last - 1):
            change = abs(windows[n + 2] - windows[n])
            if change > largest and change > CHANGE * windows[n] > 0.0:
                last, largest = n, change
        return _median(windows[max(0, last - BEFORE + 1) : last + 1])

    def least_amps(self) -> float:
        """The least positive net amps of the last minutes: LFP tapers as steeply as it ends."""
        return min((amps for amps in self._windows if amps > 0.0), default=0.0)


def _median(figures: list[float]) -> float:
    """The middle one of a few (of an even number the upper of the two)."""
    return sorted(figures)[len(figures) // 2]
