"""The devices themselves as a feed: acquire, record, then work out, in a thread of its own.

The thread has its own event loop, in which every device is polled by its own task. A screen that
stalls never stalls acquisition, and a port that blocks never freezes a screen. What arrives goes
to the capture first and to the engine second, so that a recording always holds whatever the
engine has ever seen.

Time inside a feed begins at zero, or goes on from the state it was given. The wall clock is only
ever compared with it: a jump of more than half a second is itself an input.
"""

from __future__ import annotations

import asyncio
import contextlib
import dataclasses
import threading
import time
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Final, TypeVar

from adapters.adapter import Adapter, Frame, unheard
from adapters.reading import Action, Command, Input, LinkState, OwnLink, Reading, Tick
from adapters.supervise import supervise
from monitor.bank import Site
from monitor.config import Config
from monitor.disk_room import DiskRoom, free_bytes
from monitor.engine.engine import Engine, StateError
from monitor.engine.explain import Part
from monitor.engine.snapshot import Event, EventKind, Snapshot
from monitor.engine.state import Json
from monitor.entries import Entries
from monitor.kept_events import KEPT
from monitor.kept_state import (
    KeptState,
    UnusableStateError,
    load_state,
    save_state,
    set_aside,
)
from monitor.showing import Showing
from monitor.software import software
from monitor.thrift import LOOK_SECONDS, Thrift, Thrifty
from monitor.trend import Trend
from replay.capture import CaptureWriter, Closing, Header
from replay.record import CLOCK_JUMP_SECONDS, TICK_SECONDS

#: The longest a device may take to let go when the feed stops, before it is left behind.
_FAREWELL_SECONDS: Final = 3.0

#: What must be on disk at once; everything else waits for the commit interval.
_COMMIT_AT_ONCE: Final = frozenset(
    {EventKind.ALARM, EventKind.STAGE, EventKind.COMMAND, EventKind.LINK}
)

#: Between two looks at the clock; a wait may end a hair before its time.
_SHORTEST_WAIT_SECONDS: Final = 0.01

#: Who tells what the tool itself did.
TOOL: Final = "ampwright"

#: How often what was learned is kept; it changes slowly.
_SAVE_SECONDS: Final = 600.0

#: How often entries of the log are looked for.
_ENTRIES_SECONDS: Final = 5.0

T = TypeVar("T")


class Intake:
    """The one way in: capture first, engine second. Called from one thread."""

    def __init__(self, showing: Showing, writer: CaptureWriter | None = None) -> None:
        self._showing = showing
        self._writer = writer
        self._trouble: str | None = None

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
        if self._writer is not None:
            self._writer.append(value)
        events = self._showing.step(value)
        if self._writer is not None and any(event.kind in _COMMIT_AT_ONCE for event in events):
            self._writer.commit()
        return events

    def _watch_recorder(self, writer: CaptureWriter, seconds: float) -> tuple[Event, ...]:
        """A disk that refuses is a link that went down: the display goes on and says so."""
        trouble, before = writer.trouble, self._trouble
        self._trouble = trouble
        if (trouble is None) == (before is None):
            return ()
        up, reason = trouble is None, trouble or "writes again"
        return self._take(LinkState(seconds, OwnLink.RECORDER, up, reason))


class Live:
    """A feed from the devices of a configuration.

    Raises `SettingsError` where a device cannot be made and `CaptureError` where the capture
    cannot; opens nothing else before `start`. `monotonic` and `wall` are the clocks, `free`
    tells how much room a directory's disk has; `entries` is the folder in which entries of the log
    wait; `adapters` stand in for those of the configuration
    in tests.
    """

    player: None = None

    def __init__(
        self,
        config: Config,
        *,
        capture_path: Path | None = None,
        state_path: Path | None = None,
        raw_frames: bool = False,
        adapters: list[Adapter] | None = None,
        entries: Path | None = None,
        refresh_seconds: float = 0.25,
        monotonic: Callable[[], float] = time.monotonic,
        wall: Callable[[], float] = time.time,
        free: Callable[[Path], int] = free_bytes,
    ) -> None:
        self.site = config.site
        self.refresh_seconds = refresh_seconds
        self.closing: Closing | None = None
        self.failure: Exception | None = None
        self._monotonic, self._wall = monotonic, wall
        self._state_path = state_path
        kept, self._showing, self._notice = _take_up(config.site, state_path)
        #: Events up to this number are those of earlier runs.
        self.earlier = kept.events[-1].number if kept is not None and kept.events else 0
        self._shift = (kept.resume_at(wall()) if kept is not None else 0.0) - monotonic()
        state = kept.engine if kept is not None else None
        self._adapters = adapters if adapters is not None else self._build(config, raw_frames)
        self._offset = self._wall_offset()
        self._writer = (
            CaptureWriter(capture_path, self._header(config, state)) if capture_path else None
        )
        self._intake = Intake(self._showing, self._writer)
        kept_at = capture_path or state_path
        self._disk = DiskRoom(kept_at.absolute().parent, free) if kept_at else None
        self._heard = self._saved = self.now()
        #: Why it came to its own end, in words; empty where somebody else ended it.
        self.last_words = ""
        self._thrifty, self._thrift = Thrifty(config.site, config.computer), Thrift()
        self._next_thrift = self.now()
        self._entries = Entries(entries) if entries is not None else None
        self._next_entries = self.now()
        #: Devices that have neither given a reading nor said why not.
        self.awaited = {adapter.name for adapter in self._adapters}
        self._loop: asyncio.AbstractEventLoop | None = None
        self._thread: threading.Thread | None = None
        self._stopping = asyncio.Event()
        self._finished = False

    def now(self) -> float:
        """Feed time: monotonic seconds since the feed, or the state it goes on from, began."""
        return self._monotonic() + self._shift

    async def start(self) -> None:
        ready = threading.Event()
        self._thread = threading.Thread(
            target=self._work, args=(ready,), name="acquisition", daemon=True
        )
        self._thread.start()
        await asyncio.to_thread(ready.wait)

    async def stop(self) -> None:
        """Let every device go and put everything on disk. May be called more than once."""
        if self._thread is not None:
            self._in_loop(self._stopping.set)
            await asyncio.to_thread(self._thread.join, _FAREWELL_SECONDS + 1.0)
            self._thread = None
        self.finish()
        self._showing.end()

    def snapshots(self) -> AsyncIterator[Snapshot]:
        return self._showing.snapshots(self.refresh_seconds)

    def snapshot(self) -> Snapshot:
        return self._showing.snapshot()

    def events(self, since: int) -> tuple[Event, ...]:
        return self._showing.events(since)

    def trend(self, bank: str, window_seconds: float, columns: int) -> Trend:
        return self._showing.trend(bank, window_seconds, columns)

    def ask(self, question: Callable[[Engine], T]) -> T:
        """Look at the engine between two steps."""
        return self._showing.ask(question)

    def explain(self, bank: str) -> tuple[Part, ...]:
        return self._showing.explain(bank)

    def send(self, command: Command) -> None:
        """Give the engine a command, stamped with the time at which it is taken in."""
        self._in_loop(lambda: self._take(dataclasses.replace(command, seconds=self.now())))

    def tell_link(self, device: str, up: bool, reason: str) -> None:
        """Something of the tool's own failed or works again; from whatever thread."""
        self._in_loop(lambda: self._take(LinkState(self.now(), device, up, reason)))

    async def acquire(self) -> None:
        """Poll every device until told to stop: what the thread does, in its own loop."""
        self._loop = asyncio.get_running_loop()
        self._take(Tick(self.now(), self._offset))
        if self._notice:
            self._take(Command(self.now(), TOOL, Action.NOTE, str(self._state_path), self._notice))
        tasks = [
            asyncio.create_task(supervise(adapter, self.now, self._hear, pace=self._pace))
            for adapter in self._adapters
        ]
        tasks.append(asyncio.create_task(self._seconds()))
        try:
            await self._stopping.wait()
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.wait(tasks, timeout=_FAREWELL_SECONDS)
            self.finish()

    def finish(self) -> None:
        """Close the capture and keep the state; once."""
        if self._finished:
            return
        self._finished = True
        if self._writer is not None:
            self.closing = self._writer.close()
        self._save()

    def _work(self, ready: threading.Event) -> None:
        async def main() -> None:
            self._loop = asyncio.get_running_loop()
            ready.set()
            await self.acquire()

        try:
            asyncio.run(main())
        except Exception as error:
            # Nothing here should ever fail; if it does, the screen ends and says so in one line.
            self.failure = error
        finally:
            ready.set()
            self._showing.end()

    def _in_loop(self, call: Callable[[], object]) -> None:
        """Run something in the acquisition loop, from whatever thread."""
        if self._loop is None or self._loop.is_closed():
            return
        with contextlib.suppress(RuntimeError):
            self._loop.call_soon_threadsafe(call)

    def _hear(self, value: Reading | LinkState) -> None:
        self._take(value)
        if isinstance(value, Reading) or not value.up:
            self.awaited.discard(value.device)

    def _take(self, value: Input) -> None:
        self._heard = value.seconds
        self._intake.take(value)

    async def _seconds(self) -> None:
        """A tick for each second in which nothing came, and for each jump of the wall clock."""
        while True:
            await asyncio.sleep(
                max(self._heard + TICK_SECONDS - self.now(), _SHORTEST_WAIT_SECONDS)
            )
            now, offset = self.now(), self._wall_offset()
            if abs(offset - self._offset) > CLOCK_JUMP_SECONDS:
                self._offset = offset
                self._take(Tick(now, offset))
            elif now - self._heard >= TICK_SECONDS:
                self._take(Tick(now))
            if now - self._saved >= _SAVE_SECONDS:
                self._saved = now
                self._save()
            room = self._disk.look(now) if self._disk is not None else None
            if room is not None:
                self._take(room)
            if self._entries is not None and now >= self._next_entries:
                self._next_entries = now + _ENTRIES_SECONDS
                for commands in self._entries.take(self._wall()):
                    for command in commands:
                        self._take(dataclasses.replace(command, seconds=now))
            if now >= self._next_thrift and not self._thrifty.idle:
                self._next_thrift = now + LOOK_SECONDS
                self._be_thrifty(now)

    def _pace(self, period: float) -> float:
        return max(period, self._thrift.period_seconds)

    def _be_thrifty(self, now: float) -> None:
        """Poll as slowly as is right now, and end where there is nothing left to watch with."""
        self._thrift = self._thrifty.look(self._showing.snapshot())
        for adapter in self._adapters:
            if getattr(adapter, "unasked", False):
                continue  # it sets the pace itself
            paced = self._pace(adapter.period_seconds)
            wanted = paced if paced > adapter.period_seconds else None
            if wanted != self._showing.told_period(adapter.name):
                note = f"{wanted:g} {self._thrift.why}" if wanted else "0"
                self._take(Command(now, TOOL, Action.POLL_PERIOD, adapter.name, note))
        if self._thrift.last_words and not self.last_words:
            self.last_words = self._thrift.last_words
            self._take(Command(now, TOOL, Action.NOTE, "", f"last words: {self.last_words}"))
            self._stopping.set()

    def _wall_offset(self) -> float:
        return self._wall() - self.now()

    def _build(self, config: Config, raw_frames: bool) -> list[Adapter]:
        return [
            device.build(self._raw(device.settings.name) if raw_frames else unheard)
            for device in config.devices
        ]

    def _raw(self, device: str) -> Callable[[bool, bytes], None]:
        """Where an adapter's raw bytes go; it may call from a thread of its own."""

        def take(sent: bool, data: bytes) -> None:
            frame = Frame(self.now(), device, sent, bytes(data))
            self._in_loop(lambda: self._intake.frame(frame))

        return take

    def _header(self, config: Config, state: Json | None) -> Header:
        return Header(
            config=config.text,
            descriptions=config.descriptions,
            state=state,
            software=software(),
            wall_offset=self._offset,
            origin="measured",
        )

    def _save(self) -> None:
        """Keep what was learned. A disk that refuses has already been told of by the recorder,
        or will be when the feed starts again; the display goes on."""
        if self._state_path is None:
            return
        engine, events = self._showing.state(), self._showing.events(0)
        state = KeptState(engine, self.now(), self._wall(), events[-KEPT:])
        with contextlib.suppress(OSError):
            save_state(self._state_path, state)


def _take_up(site: Site, path: Path | None) -> tuple[KeptState | None, Showing, str]:
    """The state kept there and the engine that goes on from it; a line where it was set aside."""
    if path is None:
        return None, Showing(site), ""
    try:
        kept = load_state(path)
        if kept is None:
            return None, Showing(site), ""
        return kept, Showing(site, kept.engine, kept.events), ""
    except (UnusableStateError, StateError) as error:
        return None, Showing(site), set_aside(path, str(error))
