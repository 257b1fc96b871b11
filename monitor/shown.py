"""What every feed with an engine of its own shows of it: each question goes to its `Showing`."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from adapters.reading import Input
    from monitor.engine.engine import Engine
    from monitor.engine.outlook import Outlook
    from monitor.engine.parts import Part
    from monitor.engine.said import Said
    from monitor.engine.snapshot import Event, Snapshot
    from monitor.showing import Showing
    from monitor.trend import Trend


class Shown:
    """The half of a feed that is looked at; whoever inherits it steps `_showing`."""

    refresh_seconds: float
    _showing: Showing

    def snapshots(self) -> AsyncIterator[Snapshot]:
        return self._showing.snapshots(self.refresh_seconds)

    def snapshot(self) -> Snapshot:
        return self._showing.snapshot()

    def events(self, since: int) -> tuple[Event, ...]:
        return self._showing.events(since)

    def follow(self, follower: Callable[[Input, tuple[Event, ...], Engine], None]) -> None:
        """Tell somebody of every step of the engine (`Showing.follow`)."""
        self._showing.follow(follower)

    def trend(self, bank: str, window_seconds: float, columns: int) -> Trend:
        return self._showing.trend(bank, window_seconds, columns)

    def explain(self, bank: str) -> tuple[Part, ...]:
        return self._showing.explain(bank)

    def outlook(self, bank: str) -> Outlook | None:
        return self._showing.outlook(bank)

    def said(self, bank: str) -> tuple[Said, ...]:
        return self._showing.said(bank)
