"""The engine at work, with what people may ask of it: snapshots, events so far, the trend.

One object is stepped by whoever acquires and asked by whoever looks, from different threads. The
lock is held for one step or one snapshot (well under a millisecond), never while a device or a
disk is waited for.
"""

from __future__ import annotations

import asyncio
import itertools
import threading
from collections import deque
from collections.abc import AsyncIterator, Callable
from typing import Final, TypeVar

from adapters.reading import Input
from monitor.bank import Site
from monitor.engine.engine import Engine
from monitor.engine.explain import chain
from monitor.engine.outlook import Outlook, outlook_of
from monitor.engine.parts import Part
from monitor.engine.said import Said, said_of
from monitor.engine.snapshot import Event, Glance, Snapshot
from monitor.engine.state import Json
from monitor.trend import Trend, TrendStore

#: Events that a listener may still ask for: weeks of a quiet bank.
KEPT_EVENTS: Final = 10_000

T = TypeVar("T")


class Showing:
    """A stepping engine that others may look at; `events` are those of before `state`."""

    def __init__(
        self, site: Site, state: Json | None = None, events: tuple[Event, ...] = ()
    ) -> None:
        self.site = site
        self._lock = threading.Lock()
        self._engine = Engine(site, state)
        self._events: deque[Event] = deque(events, maxlen=KEPT_EVENTS)
        self._trend = TrendStore()
        self._followers: tuple[Callable[[Input, tuple[Event, ...], Engine], None], ...] = ()
        self._listeners: set[_Listener] = set()
        self._ended = False

    def step(self, value: Input) -> tuple[Event, ...]:
        """Give the engine one input; nobody is told before `tell`."""
        with self._lock:
            events = self._engine.step(value)
            self._events.extend(events)
            for bank in self.site.banks:
                glance = self._engine.glance(bank.id)
                if glance.stage is not None or glance.volts is not None:
                    self._trend.add(bank.id, glance)
            for follower in self._followers:
                follower(value, events, self._engine)
        return events

    def follow(self, follower: Callable[[Input, tuple[Event, ...], Engine], None]) -> None:
        """Tell somebody of every step from now on, with the engine as it stands after it. He must
        be quick (the lock is held), never raise, and not hold on to the engine."""
        with self._lock:
            self._followers = (*self._followers, follower)

    def snapshot(self) -> Snapshot:
        with self._lock:
            return self._engine.snapshot()

    def state(self) -> Json:
        with self._lock:
            return self._engine.state()

    def glance(self, bank: str) -> Glance:
        with self._lock:
            return self._engine.glance(bank)

    def events(self, since: int) -> tuple[Event, ...]:
        with self._lock:
            newer = itertools.takewhile(lambda e: e.number > since, reversed(self._events))
            return tuple(newer)[::-1]

    def trend(self, bank: str, window_seconds: float, columns: int) -> Trend:
        with self._lock:
            return self._trend.trend(bank, window_seconds, columns)

    def told_period(self, device: str) -> float | None:
        with self._lock:
            return self._engine.told_period(device)

    def ask(self, question: Callable[[Engine], T]) -> T:
        """Look at the engine itself, between two steps; the answer must not hold on to it."""
        with self._lock:
            return question(self._engine)

    def explain(self, bank: str) -> tuple[Part, ...]:
        """The chain behind a bank's figures."""
        return self.ask(lambda engine: chain(engine, bank))

    def outlook(self, bank: str) -> Outlook | None:
        """What plans are made from; None before the first reading."""
        return self.ask(lambda engine: outlook_of(engine, bank))

    def said(self, bank: str) -> tuple[Said, ...]:
        """Every value that devices gave of a bank."""
        return self.ask(lambda engine: said_of(engine, bank))

    def rewind(self, state: Json | None, seconds: float) -> None:
        """Go back to an earlier state of the same engine, as it was before `seconds`."""
        with self._lock:
            self._engine = Engine(self.site, state)
            last = self._engine.snapshot().last_event
            while self._events and self._events[-1].number > last:
                self._events.pop()
            self._trend.rewind(seconds)

    def tell(self) -> None:
        """Wake everybody who waits for a snapshot; from any thread."""
        for listener in tuple(self._listeners):
            listener.wake()

    def end(self) -> None:
        """There will be no more; every `snapshots` gives the last and ends."""
        self._ended = True
        self.tell()

    async def snapshots(self, refresh_seconds: float) -> AsyncIterator[Snapshot]:
        """The newest snapshot whenever there is one, at most once per `refresh_seconds`."""
        listener = _Listener(asyncio.get_running_loop())
        self._listeners.add(listener)
        try:
            while not self._ended:
                listener.news.clear()
                yield self.snapshot()
                if not self._ended:
                    await listener.news.wait()
                if not self._ended:
                    await asyncio.sleep(refresh_seconds)
            yield self.snapshot()
        finally:
            self._listeners.discard(listener)


class _Listener:
    """Somebody who waits in a loop of his own."""

    def __init__(self, loop: asyncio.AbstractEventLoop) -> None:
        self.loop = loop
        self.news = asyncio.Event()

    def wake(self) -> None:
        # A loop that has closed since has nobody left to wake.
        if not self.loop.is_closed():
            try:
                self.loop.call_soon_threadsafe(self.news.set)
            except RuntimeError:
                return
