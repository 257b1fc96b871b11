"""What a screen draws from, and what it may ask of the application that shows it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol, runtime_checkable

from adapters.reading import Action, Command
from monitor.dashboard.widgets.blocks import Signs
from monitor.engine.snapshot import AlarmView, BankView, Snapshot
from monitor.feed import Feed
from monitor.words.figures import Clock


@dataclass(frozen=True, slots=True)
class View:
    """One moment to draw. `stalled` says, in words, why the snapshot must not look live;
    `fahrenheit` is how the person reads temperatures; the snapshot's sentences have them so."""

    snapshot: Snapshot | None
    bank_index: int
    clock: Clock
    stalled: str = ""
    fahrenheit: bool = False

    @property
    def bank(self) -> BankView | None:
        """The bank in view; None while nothing may be shown as live."""
        if self.snapshot is None or self.stalled or not self.snapshot.banks:
            return None
        return self.snapshot.banks[self.bank_index % len(self.snapshot.banks)]

    @property
    def shown(self) -> float | None:
        """The moment of what is on the screen; None before anything is."""
        return self.snapshot.seconds if self.snapshot is not None else None

    @property
    def now(self) -> float:
        return self.snapshot.seconds if self.snapshot is not None else 0.0


@runtime_checkable
class Drawing(Protocol):
    """A screen that draws a view."""

    is_mounted: bool

    def show(self, view: View) -> None: ...


class Board(Protocol):
    """The application as its screens know it; they never import it."""

    feed: Feed
    signs: Signs
    fahrenheit: bool
    window_seconds: float
    who: str

    def redraw(self) -> None: ...
    def do(self, key: str) -> None: ...
    def tell(self, alarm: AlarmView, action: Action, note: str = "") -> None: ...
    def enter(self, commands: tuple[Command, ...]) -> None: ...
