"""A running service as a feed: the same screens, over its socket.

What the service sends is shown; what it keeps (events, trend, the chain behind a figure) is asked
for. Screens ask without waiting, so the answer to a question is the newest that came, and the next
is on its way: a chart is at most one snapshot behind.

A service that goes away is called again until it is back. Meanwhile `trouble` says so, with the
age of what was last heard; nothing may look live.
"""

from __future__ import annotations

import asyncio
import itertools
import math
import time
from collections import deque
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass
from typing import Any, Final

from adapters.reading import Command
from monitor.engine.duration import duration
from monitor.engine.outlook import Outlook
from monitor.engine.parts import Part
from monitor.engine.said import Said
from monitor.engine.snapshot import Event, Snapshot
from monitor.link_counts import LinkCount
from monitor.service import wire
from monitor.service.caller import Greeted, greeted_by
from monitor.trend import Trend

#: Waits before calling again (common practice): soon at first, rarely later.
FIRST_WAIT_SECONDS: Final = 0.25
LONGEST_WAIT_SECONDS: Final = 5.0
#: Events kept, as many as a service does (`monitor.showing`, which would bring the whole engine).
_MOST_EVENTS: Final = 10_000
#: What plans are made from is asked for so often, before anybody plans: a screen asks but once.
OUTLOOK_SECONDS: Final = 60.0
#: Answers kept: a person turns to a handful of charts.
_MOST_KEPT: Final = 16


@dataclass(slots=True)
class _Kept:
    """The newest answer to a question, and the moment for which it was last asked."""

    answer: Any
    asked_for: float = math.nan


class Attached:
    """A feed from the service that `greeted` us. `look_only` gives no commands.

    `answers` counts the charts that came: a screen that drew an older one draws again.
    """

    player: None = None

    def __init__(
        self,
        greeted: Greeted,
        *,
        look_only: bool = False,
        refresh_seconds: float = 0.25,
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        self.site = greeted.site
        self.path = greeted.path
        self.look_only = look_only
        self.refresh_seconds = refresh_seconds
        self.last_words = ""
        self.answers = 0
        #: What plain output waits for before it speaks; the service has waited already.
        self.awaited: frozenset[str] = frozenset()
        self._monotonic = monotonic
        self._snapshot: Snapshot | None = None
        self._heard = monotonic()
        self._gone: str | None = None
        self._events: deque[Event] = deque(maxlen=_MOST_EVENTS)
        self._kept: dict[tuple[object, ...], _Kept] = {}
        self._questions: dict[int, tuple[object, ...]] = {}
        self._numbers = itertools.count(1)
        self._writer: asyncio.StreamWriter | None = None
        self._news = asyncio.Event()
        self._turned = asyncio.Event()
        self._ended = False
        self._task: asyncio.Task[None] | None = None

    async def start(self) -> None:
        self._task = asyncio.create_task(self._stay())

    async def stop(self) -> None:
        if self._task is not None:
            self._task.cancel()
            await asyncio.gather(self._task, return_exceptions=True)
            self._task = None
        self._ended = True
        self._news.set()

    def now(self) -> float:
        return self._snapshot.seconds if self._snapshot is not None else 0.0

    @property
    def trouble(self) -> str:
        """Why nothing here is live, in words with its age; empty while the service speaks."""
        if self._gone is None:
            return ""
        age = duration(self._monotonic() - self._heard)
        return f"Nothing known for {age}: the service is gone ({self._gone}); calling again."

    async def snapshots(self) -> AsyncIterator[Snapshot]:
        while not self._ended:
            await self._news.wait()
            self._news.clear()
            if self._snapshot is not None and self._gone is None:
                yield self._snapshot
                await asyncio.sleep(self.refresh_seconds)

    async def turns(self) -> AsyncIterator[str]:
        """Why, each time the service goes; an empty text each time it is back."""
        gone = False
        while not self._ended:
            await self._turned.wait()
            self._turned.clear()
            if gone is not (self._gone is not None):
                gone = not gone
                yield self._gone or ""

    def events(self, since: int) -> tuple[Event, ...]:
        return tuple(event for event in self._events if event.number > since)

    def trend(self, bank: str, window_seconds: float, columns: int) -> Trend:
        column = math.floor(self.now() / (window_seconds / max(columns, 1)))
        trend: Trend = self._ask(
            ("trend", bank, window_seconds, columns),
            column,
            lambda to: wire.AskTrend(to, bank, window_seconds, columns),
            Trend(0.0, window_seconds, ()),
        )
        return trend

    def explain(self, bank: str) -> tuple[Part, ...]:
        parts: tuple[Part, ...] = self._ask(
            ("explain", bank), self.now(), lambda to: wire.Explain(to, bank), ()
        )
        return parts

    def outlook(self, bank: str) -> Outlook | None:
        minute = math.floor(self.now() / OUTLOOK_SECONDS)
        outlook: Outlook | None = self._ask(
            ("outlook", bank), minute, lambda to: wire.Foresee(to, bank), None
        )
        return outlook

    def said(self, bank: str) -> tuple[Said, ...]:
        said: tuple[Said, ...] = self._ask(
            ("said", bank), self.now(), lambda to: wire.AskSaid(to, bank), ()
        )
        return said

    def link_counts(self) -> tuple[LinkCount, ...]:
        counts: tuple[LinkCount, ...] = self._ask(("counts",), self.now(), wire.AskCounts, ())
        return counts

    def send(self, command: Command) -> None:
        if not self.look_only:
            note = command.note[: wire.LONGEST_WORDS]
            self._say(wire.Do(next(self._numbers), command.action, command.target, note))

    # Questions.

    def _ask(
        self, key: tuple[object, ...], moment: float, ask: Callable[[int], wire.Message], empty: Any
    ) -> Any:
        """The newest answer; asked again once for each moment."""
        kept = self._kept.get(key)
        if kept is None:
            while len(self._kept) >= _MOST_KEPT:
                self._kept.pop(next(iter(self._kept)))
            kept = self._kept[key] = _Kept(empty)
        if kept.asked_for != moment:
            kept.asked_for = moment
            to = next(self._numbers)
            self._questions[to] = key
            self._say(ask(to))
        return kept.answer

    def _say(self, message: wire.Message) -> None:
        if self._writer is not None and not self._writer.is_closing():
            self._writer.write(wire.line(message))

    # The connection.

    async def _stay(self) -> None:
        """Be connected; call again whenever it ends."""
        wait = FIRST_WAIT_SECONDS
        while True:
            before = self._heard
            try:
                await self._listen()
            except (OSError, ValueError, wire.WireError) as error:
                self._gone = " ".join(str(getattr(error, "strerror", None) or error).split())
            else:
                self._gone = "it ended"
            finally:
                self._turned.set()
                if self._writer is not None:
                    self._writer.transport.abort()
                    self._writer = None
            if self.last_words:
                self._ended = True
                self._news.set()
                return
            if self._heard > before:
                wait = FIRST_WAIT_SECONDS
            await asyncio.sleep(wait)
            wait = min(2.0 * wait, LONGEST_WAIT_SECONDS)

    async def _listen(self) -> None:
        reader, self._writer = await asyncio.open_unix_connection(
            str(self.path), limit=wire.LONGEST_NEWS
        )
        greeted_by(self.path, await reader.readline())
        self._events.clear()
        self._questions.clear()
        for kept in self._kept.values():
            kept.asked_for = math.nan
        self._say(wire.Watch(self.look_only))
        held: Snapshot | None = None
        while data := await reader.readline():
            said = wire.from_service(data)
            match said:
                case wire.News(snapshot):
                    held = self._take(snapshot, held)
                case wire.EventPage(_, events):
                    self._events.extend(events)
                    # An empty page: those are no longer kept, and not waited for.
                    held = self._take(held, None) if held is not None and events else None
                case wire.TrendTold(to, trend):
                    self.answers += 1
                    self._keep(to, trend)
                case wire.Explained(to, answer) | wire.SaidTold(to, answer):
                    self._keep(to, answer)
                case wire.Foreseen(to, answer) | wire.Counts(to, answer):
                    self._keep(to, answer)
                case wire.Ended(last_words):
                    self.last_words = last_words
                    return
                case wire.Refused(to):
                    self._questions.pop(to, None)
                case _:
                    pass

    def _take(self, snapshot: Snapshot, held: Snapshot | None) -> Snapshot | None:
        """Show a snapshot once the events are here of which it tells; until then it is held.

        The very first is shown at once: its events are all there ever were.
        """
        self._heard = self._monotonic()
        known = self._events[-1].number if self._events else 0
        if known < snapshot.last_event:
            if held is None:
                self._say(wire.Events(next(self._numbers), known))
            if self._events:
                return snapshot
        self._snapshot, self._gone = snapshot, None
        self._turned.set()
        for bank in self.site.banks:
            self.outlook(bank.id)
        self._news.set()
        return snapshot if known < snapshot.last_event else None

    def _keep(self, to: int, answer: object) -> None:
        key = self._questions.pop(to, None)
        kept = self._kept.get(key) if key is not None else None
        if kept is not None:
            kept.answer = answer
