"""The devices themselves as a feed: acquire, record, then work out, in a thread of its own.

The thread has its own event loop, in which every device is polled by its own task. A screen that
stalls never stalls acquisition, and a port that blocks never freezes a screen. What arrives goes
to the capture first and to the engine second, so that a recording always holds whatever the
engine has ever seen.

Time inside a feed begins at zero, or goes on from the state or the record it was given
(`monitor.beginning`). The wall clock is only ever compared with it: a jump of more than half a
second is itself an input.
"""

from __future__ import annotations

import asyncio
import contextlib
import dataclasses
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final, TypeVar

from adapters.adapter import Adapter, Frame, unheard
from adapters.reading import Action, Command, Input, LinkState, Reading, Tick
from adapters.supervise import supervise
from monitor.beginning import Clocks, begin, begin_history, begin_looking
from monitor.config import Config
from monitor.disk_room import DiskRoom, free_bytes
from monitor.engine.engine import Engine
from monitor.entries import Entries
from monitor.history.keeper import Kept
from monitor.history.worker import FAREWELL_SECONDS, Worker
from monitor.history.writing import HistoryWriter
from monitor.intake import Intake
from monitor.kept_events import KEPT
from monitor.kept_state import KeptState, save_state
from monitor.link_counts import Counted, LinkCount
from monitor.pulse import Pulse, ReaderPulse
from monitor.shown import Shown
from monitor.thrift import LOOK_SECONDS, Thrift, Thrifty
from monitor.wall_clock import boot_id
from replay.capture import Closing
from replay.record import TICK_SECONDS

#: The longest a device may take to let go when the feed stops, before it is left behind.
_FAREWELL_SECONDS: Final = 3.0

#: Between two looks at the clock; a wait may end a hair before its time.
_SHORTEST_WAIT_SECONDS: Final = 0.01

#: Who tells what the tool itself did.
TOOL: Final = "ampwright"

#: How often what was learned is kept; it changes slowly.
_SAVE_SECONDS: Final = 600.0

#: How often entries of the log are looked for.
_ENTRIES_SECONDS: Final = 5.0

T = TypeVar("T")


class Live(Shown):
    """A feed from the devices of a configuration.

    Raises `SettingsError` where a device cannot be made and `CaptureError` where the capture
    cannot; opens nothing else before `start`. With `history_path` everything goes into the record
    of that directory, kept as `config.history` says, and goes on where it ended; `capture_path` is
    a single capture instead. `look_from` is a record to begin from and not to touch. `entries` is
    the folder in which entries of the log wait. `monotonic` and `wall` are the clocks, `boot` names
    this start of the machine, `free` tells how much room a directory's disk has; `adapters` stand
    in for those of the configuration in tests, `worker` for the thread beside.
    """

    player: None = None

    def __init__(
        self,
        config: Config,
        *,
        capture_path: Path | None = None,
        history_path: Path | None = None,
        look_from: Path | None = None,
        state_path: Path | None = None,
        raw_frames: bool = False,
        adapters: list[Adapter] | None = None,
        entries: Path | None = None,
        refresh_seconds: float = 0.25,
        monotonic: Callable[[], float] = time.monotonic,
        wall: Callable[[], float] = time.time,
        free: Callable[[Path], int] = free_bytes,
        boot: str | None = None,
        worker: Worker | None = None,
    ) -> None:
        self.site = config.site
        self.refresh_seconds = refresh_seconds
        self.closing: Closing | None = None
        self.failure: Exception | None = None
        self._monotonic, self._wall = monotonic, wall
        built = self._build(config, raw_frames) if adapters is None else adapters
        self._counted = [Counted(adapter, monotonic) for adapter in built]
        self._adapters: list[Adapter] = [*self._counted]
        clocks = Clocks(monotonic, wall, boot_id() if boot is None else boot)
        if history_path is not None:
            begun = begin_history(
                config, clocks, history_path, state_path, free=free, worker=worker
            )
        elif look_from is not None:
            begun = begin_looking(config, clocks, look_from)
        else:
            begun = begin(config, clocks, state_path, capture_path)
        self._showing, self._shift, self._clock = begun.showing, begun.shift, begun.clock
        self._writer, self._state_path = begun.writer, begun.state_path
        self._notices = begun.notices
        before = self._showing.events(0)
        #: Events up to this number are those of earlier runs.
        self.earlier = before[-1].number if before else 0
        self._intake = Intake(self._showing, self._writer)
        self._record = self._writer if isinstance(self._writer, HistoryWriter) else None
        if self._record is not None:
            self._record.tell_thinned = self._tell_thinned
        kept_at = capture_path or self._state_path
        kept_in = history_path or (kept_at.absolute().parent if kept_at else None)
        self._disk = DiskRoom(kept_in, free) if kept_in else None
        self._heard = self._saved = self.now()
        self._taken = 0
        self._turned = {adapter.name: monotonic() for adapter in self._adapters}
        self.last_words = ""  # why it came to its own end; empty where somebody else ended it
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
        self._work_told: str | None = None

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
            await asyncio.to_thread(self._end_acquisition)
            self._thread = None
        self.finish()
        self._showing.end()

    def keep(self) -> None:
        """Let every device go and put everything on disk, for a thread beside a screen that is
        held up."""
        self._end_acquisition()
        self.finish()

    def _end_acquisition(self) -> None:
        if (thread := self._thread) is not None:
            self._in_loop(self._stopping.set)
            work = FAREWELL_SECONDS if self._record is not None else 0.0
            thread.join(_FAREWELL_SECONDS + 1.0 + work)

    def ask(self, question: Callable[[Engine], T]) -> T:
        """Look at the engine between two steps."""
        return self._showing.ask(question)

    def link_counts(self) -> tuple[LinkCount, ...]:
        return tuple(adapter.count() for adapter in self._counted)

    def send(self, command: Command) -> None:
        """Give the engine a command, stamped with the time at which it is taken in."""
        self._in_loop(lambda: self._take(dataclasses.replace(command, seconds=self.now())))

    def tell_link(self, device: str, up: bool, reason: str) -> None:
        """Something of the tool's own failed or works again; from whatever thread."""
        self._in_loop(lambda: self._take(LinkState(self.now(), device, up, reason)))

    @property
    def ended(self) -> bool:
        """Whether acquisition has come to its end, by its own choice or by a failure."""
        return bool(self._thread is not None and not self._thread.is_alive())

    def pulse(self) -> Pulse:
        """How far everything has come; from any thread."""
        now = self._monotonic()
        readers = (
            ReaderPulse(each.name, now - self._turned[each.name], self._pace(each.period_seconds))
            for each in self._adapters
        )
        return Pulse(self._taken, tuple(readers))

    async def acquire(self) -> None:
        """Poll every device until told to stop: what the thread does, in its own loop."""
        self._loop = asyncio.get_running_loop()
        self._take(Tick(self.now(), self._clock.offset))
        for notice in self._notices:
            self._take(Command(self.now(), TOOL, Action.NOTE, str(self._state_path), notice))
        tasks = [
            asyncio.create_task(
                supervise(
                    adapter, self.now, self._hear, pace=self._pace, turned=self._turning(adapter)
                )
            )
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
        if self._record is not None:
            self._record.release()

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
        self._taken += 1

    def _turning(self, adapter: Adapter) -> Callable[[], None]:
        def turned() -> None:
            self._turned[adapter.name] = self._monotonic()

        return turned

    async def _seconds(self) -> None:
        """A tick for each second in which nothing came, and for each jump of the wall clock."""
        while True:
            await asyncio.sleep(
                max(self._heard + TICK_SECONDS - self.now(), _SHORTEST_WAIT_SECONDS)
            )
            now = self.now()
            if self._clock.look():
                self._take(Tick(now, self._clock.offset))
            elif now - self._heard >= TICK_SECONDS:
                self._take(Tick(now))
            if now - self._saved >= _SAVE_SECONDS:
                self._saved = now
                self._save()
                if self._record is not None:
                    self._record.note()
                    self._tell_work(self._record)
            room = self._disk.look(now) if self._disk is not None else None
            if room is not None:
                self._take(room)
                if self._record is not None and not room.up:
                    self._record.look_after(now)
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

    def _tell_work(self, record: HistoryWriter) -> None:
        """What the record could not do beside: a line in the journal, once."""
        trouble, before = record.work_trouble, self._work_told
        self._work_told = trouble
        if trouble is not None and trouble != before:
            self._take(Command(self.now(), TOOL, Action.NOTE, "", trouble))

    def _tell_thinned(self, kept: Kept) -> None:
        """Older days were thinned because there was no room: said in the journal."""
        thinned = sorted(set(kept.for_room))
        words = (
            f"no room: {len(thinned)} older segments of the record were thinned, "
            f"from {thinned[0]:05d} to {thinned[-1]:05d}"
        )
        self._in_loop(lambda: self._take(Command(self.now(), TOOL, Action.NOTE, "", words)))

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

    def _save(self) -> None:
        """Keep what was learned, after the rows that taught it. A disk that refuses has already
        been told of by the recorder, or will be when the feed starts again; the display goes on."""
        if self._state_path is None:
            return
        recorded = book = None
        if self._writer is not None:
            if not self._finished:
                self._writer.commit()
            recorded = self._writer.recorded()
        if self._record is not None:
            book = self._record.book.memory()
        engine, events = self._showing.state(), self._showing.events(0)
        state = KeptState(engine, self.now(), self._wall(), events[-KEPT:], recorded, book)
        with contextlib.suppress(OSError):
            save_state(self._state_path, state)
