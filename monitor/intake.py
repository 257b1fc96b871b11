"""The one way in of a live feed: to the disk first, to the engine second.

So a recording always holds whatever the engine has ever seen. Here it is decided what must be on
disk at once, and how long the rest may wait; a disk that refuses becomes a link that went down.
"""

from __future__ import annotations

import math
from typing import Final

from adapters.adapter import Frame
from adapters.reading import Input, LinkState, OwnLink
from monitor.commit_policy import AT_ONCE, commit_seconds
from monitor.engine.snapshot import Event
from monitor.history.writing import HistoryWriter
from monitor.showing import Showing
from replay.capture import CaptureWriter

#: How often it is asked how long a row may wait.
_PACE_SECONDS: Final = 5.0


class Intake:
    """Called from one thread."""

    def __init__(
        self, showing: Showing, writer: CaptureWriter | HistoryWriter | None = None
    ) -> None:
        self._showing = showing
        self._writer = writer
        self._record = writer if isinstance(writer, HistoryWriter) else None
        self._trouble: str | None = None
        self._paced = -math.inf

    def take(self, value: Input) -> tuple[Event, ...]:
        events = self._take(value)
        if self._writer is not None:
            events += self._watch_recorder(self._writer, value.seconds)
        self._showing.tell()
        return events

    def frame(self, frame: Frame) -> None:
        if self._writer is not None:
            self._writer.frame(frame)

    def _take(self, value: Input) -> tuple[Event, ...]:
        writer = self._writer
        if writer is None:
            return self._showing.step(value)
        writer.append(value)
        events = self._showing.step(value)
        if self._record is not None:
            self._record.worked(value, events)
        if any(event.kind in AT_ONCE for event in events):
            writer.commit()
            self._paced = -math.inf
        if abs(value.seconds - self._paced) >= _PACE_SECONDS:
            self._paced = value.seconds
            showing = self._showing
            looks = ((bank, showing.glance(bank.id)) for bank in showing.site.banks)
            writer.commit_seconds = commit_seconds(looks)
        return events

    def _watch_recorder(
        self, writer: CaptureWriter | HistoryWriter, seconds: float
    ) -> tuple[Event, ...]:
        """A disk that refuses is a link that went down: the display goes on and says so."""
        trouble, before = writer.trouble, self._trouble
        self._trouble = trouble
        if (trouble is None) == (before is None):
            return ()
        up, reason = trouble is None, trouble or "writes again"
        return self._take(LinkState(seconds, OwnLink.RECORDER, up, reason))
