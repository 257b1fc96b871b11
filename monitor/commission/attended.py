"""A feed with a commissioning beside it: every snapshot goes through the procedure first.

Whatever shows the feed sees the same as without it; a screen finds the procedure as `session`.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Any

from monitor.commission.session import Session
from monitor.engine.snapshot import Snapshot


class Attended:
    """Stands in for `feed`, of whatever kind it is."""

    def __init__(self, feed: Any, session: Session) -> None:
        self._feed = feed
        self.session = session

    def __getattr__(self, name: str) -> Any:
        return getattr(self._feed, name)

    async def snapshots(self) -> AsyncIterator[Snapshot]:
        async for snapshot in self._feed.snapshots():
            self.session.take(snapshot)
            yield snapshot
