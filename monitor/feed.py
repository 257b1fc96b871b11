"""The one door between acquisition and people: screens and plain output see nothing else."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol, runtime_checkable

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

    from adapters.reading import Command
    from monitor.bank import Site
    from monitor.engine.outlook import Outlook
    from monitor.engine.parts import Part
    from monitor.engine.said import Said
    from monitor.engine.snapshot import Event, Snapshot
    from monitor.link_counts import LinkCount
    from monitor.trend import Trend


class PlayerControls(Protocol):
    """What can be asked of a capture that plays; none of it is an input of the engine."""

    @property
    def start(self) -> float: ...
    @property
    def end(self) -> float: ...
    @property
    def position(self) -> float: ...
    @property
    def paused(self) -> bool: ...
    @property
    def rate(self) -> float: ...
    @property
    def catching_up(self) -> bool:
        """More of the capture is due than was taken in: a far jump is being followed."""

    def pause(self) -> None: ...
    def resume(self) -> None: ...
    def set_rate(self, rate: float) -> None: ...
    def seek(self, seconds: float) -> None: ...
    def step(self) -> None: ...


class Feed(Protocol):
    """Where screens get everything from, live or played.

    `snapshots` gives the newest snapshot whenever there is one, at most once per
    `refresh_seconds`, and ends when the feed does. `events(since)` gives every event numbered
    above `since`. `send` stamps the command with the feed's own time. `explain` is the chain behind
    a bank's figures as they are now. `player` is None when live.
    """

    site: Site
    player: PlayerControls | None

    async def start(self) -> None: ...
    async def stop(self) -> None: ...
    def snapshots(self) -> AsyncIterator[Snapshot]: ...
    def events(self, since: int) -> tuple[Event, ...]: ...
    def send(self, command: Command) -> None: ...
    def trend(self, bank: str, window_seconds: float, columns: int) -> Trend: ...
    def explain(self, bank: str) -> tuple[Part, ...]: ...


@runtime_checkable
class Knowing(Protocol):
    """A feed that has the engine at hand: what plans are made from, and every value as said."""

    def outlook(self, bank: str) -> Outlook | None: ...
    def said(self, bank: str) -> tuple[Said, ...]: ...


@runtime_checkable
class Counting(Protocol):
    """A feed that polls devices itself: how that went, device by device."""

    def link_counts(self) -> tuple[LinkCount, ...]: ...
