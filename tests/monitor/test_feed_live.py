"""The live feed: recorded before it is worked out, and nothing lost whatever goes wrong."""

from __future__ import annotations

import asyncio
import itertools
import math
import os
import threading
import time
from collections.abc import Callable, Coroutine
from pathlib import Path
from typing import Any

import pytest

from adapters.adapter import LinkError, LinkLost, Values
from adapters.reading import Action, Channel, Command, LinkState, OwnLink, Quantity, Reading, Tick
from monitor.bank import Site
from monitor.config import Config, parse_config
from monitor.engine.engine import Engine
from monitor.engine.snapshot import AlarmState, Event, EventKind
from monitor.intake import Intake
from monitor.live import Live
from monitor.played import Played
from monitor.recorded import open_recorded
from monitor.showing import Showing
from replay.capture import CaptureWriter, Header, open_capture
from replay.player import Player
from tests.monitor.recordings import BANK_TOML
from tests.monitor.virtual_time import run_virtual, virtual_now

SITE_TOML = f"""\
{BANK_TOML}
[sources.shore]
kind = "ac-charger"
rated_amps = 40

[devices.shunt]
adapter = "scripted"
period_seconds = 1

[devices.charger]
adapter = "scripted"
period_seconds = 5
"""

WALL = 1.7e9


def config() -> Config:
    return parse_config(SITE_TOML, "coach.toml")


class Scripted:
    """A device that answers by a function of the time since the feed began."""

    def __init__(self, name: str, period: float, answer: Callable[[float], Values]) -> None:
        self.name = name
        self.period_seconds = period
        self._answer = answer
        self._began: float | None = None

    async def open(self) -> None:
        if self._began is None:
            self._began = virtual_now()

    async def poll(self) -> Values:
        assert self._began is not None
        await asyncio.sleep(0.01)
        return self._answer(virtual_now() - self._began)

    async def close(self) -> None: ...


def shunt(seconds: float) -> Values:
    """Charging, with an unplugged cable from the second to the fourth minute."""
    if 120.0 <= seconds < 240.0:
        raise LinkLost("shunt: the port is gone; plug it in again")
    amps = 30.0 + math.sin(seconds / 7.0)
    return (
        (Channel("house", Quantity.BANK_VOLTS), round(12.6 + seconds / 2000.0, 2)),
        (Channel("house", Quantity.BANK_AMPS), round(amps, 1)),
        (Channel("house", Quantity.BANK_CELSIUS), 20.0),
    )


def charger(seconds: float) -> Values:
    if 300.0 <= seconds < 320.0:
        raise LinkError("charger: no answer")
    return (
        (Channel("shore", Quantity.SOURCE_AMPS), 33.5),
        (Channel("shore", Quantity.REPORTED_STAGE), "bulk"),
    )


def devices() -> list[Any]:
    return [Scripted("shunt", 1.0, shunt), Scripted("charger", 5.0, charger)]


def live_for(
    seconds: float,
    script: Callable[[Live], Coroutine[Any, Any, None]] | None = None,
    **options: Any,
) -> Live:
    """Run a live feed in made time for so long, with somebody acting beside it."""
    made: list[Live] = []

    async def main() -> None:
        began = virtual_now()
        loop = asyncio.get_running_loop()
        jump_at = began + 200.0
        options.setdefault("adapters", devices())
        live = Live(
            config(),
            monotonic=loop.time,
            wall=lambda: WALL + loop.time() + (5400.0 if loop.time() >= jump_at else 0.0),
            **options,
        )
        made.append(live)
        acquiring = asyncio.create_task(live.acquire())
        acting = asyncio.create_task(script(live)) if script is not None else None
        await asyncio.sleep(seconds)
        if acting is not None:
            await acting
        acquiring.cancel()
        await asyncio.gather(acquiring, return_exceptions=True)

    run_virtual(main())
    return made[0]


async def acknowledge(live: Live) -> None:
    """A person sees the silent shunt, waits a little, and acknowledges the alarm."""
    await asyncio.sleep(180.0)
    alarm = next(a for a in live.snapshot().alarms if a.target == "shunt")
    live.send(Command(0.0, "owner", Action.ACKNOWLEDGE, f"{alarm.target}:{alarm.name}"))


def test_a_live_run_replays_to_identical_events(tmp_path: Path) -> None:
    """Unplugged, acknowledged, the clock set, plugged in again: all of it is in the capture."""
    path = tmp_path / "run.capture"
    live = live_for(420.0, acknowledge, capture_path=path)
    events = live.events(0)
    kinds = {event.kind for event in events}
    assert {EventKind.LINK, EventKind.ALARM, EventKind.CLOCK, EventKind.COMMAND} <= kinds
    assert any(event.target == "shunt" and event.name == "down" for event in events)
    assert any(event.target == "shunt" and event.name == "up" for event in events)
    acknowledged = [event for event in events if event.kind is EventKind.COMMAND]
    assert [event.seconds for event in acknowledged] == [180.0]

    recorded = open_recorded(path)
    engine = Engine(recorded.site, recorded.state)
    replayed: list[Event] = []
    for value in recorded.recording.inputs():
        replayed.extend(engine.step(value))
    assert tuple(replayed) == events
    assert engine.snapshot() == live.snapshot()
    assert engine.state() == live._showing.state()

    now = 0.0
    played = Played(Player(recorded.recording, 60.0), recorded.site, clock=lambda: now)
    while not played.finished:
        while played.turn():
            pass
        now += 0.4
    assert played.events(0) == events
    assert played.snapshot() == live.snapshot()


def test_every_second_without_a_reading_is_a_tick(tmp_path: Path) -> None:
    path = tmp_path / "run.capture"
    live_for(420.0, acknowledge, capture_path=path)
    inputs = list(open_capture(path).inputs())
    ticks = [value for value in inputs if isinstance(value, Tick)]
    offsets = [tick.wall_offset for tick in ticks if tick.wall_offset is not None]
    assert offsets == [pytest.approx(WALL + 1000.0), pytest.approx(WALL + 6400.0)]
    assert isinstance(inputs[0], Tick)
    # The charger speaks every 5 s while the shunt is away for 2 minutes.
    quiet = [tick for tick in ticks if 125.0 <= tick.seconds < 239.0]
    assert 0.7 * 114 <= len(quiet) <= 115
    moments = [value.seconds for value in inputs]
    assert moments == sorted(moments)
    assert max(b - a for a, b in itertools.pairwise(moments)) <= 1.01


def test_an_alarm_a_stage_and_a_command_are_on_disk_at_once(tmp_path: Path) -> None:
    path = tmp_path / "run.capture"
    on_disk: list[tuple[Event, bool]] = []

    async def look(live: Live) -> None:
        told = 0
        for _ in range(400):
            await asyncio.sleep(1.0)
            for event in live.events(told):
                told = event.number
                if event.kind in (EventKind.ALARM, EventKind.STAGE, EventKind.COMMAND):
                    times = [value.seconds for value in open_capture(path).inputs()]
                    on_disk.append((event, event.seconds <= max(times)))

    async def both(live: Live) -> None:
        await asyncio.gather(look(live), acknowledge(live))

    live_for(405.0, both, capture_path=path)
    assert on_disk
    assert all(there for _, there in on_disk)


class FullDisk:
    """A disk that refuses for a while, seen through `os.pwrite`."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.full = False
        write = os.pwrite

        def pwrite(file: int, data: Any, offset: int) -> int:
            if self.full:
                raise OSError(28, "No space left on device")
            return write(file, data, offset)

        monkeypatch.setattr(os, "pwrite", pwrite)


def test_a_full_disk_is_told_and_costs_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "run.capture"
    disk = FullDisk(monkeypatch)
    seen: list[Any] = []

    async def script(live: Live) -> None:
        await asyncio.sleep(30.0)
        disk.full = True
        await asyncio.sleep(30.0)
        seen.append(live.snapshot())
        disk.full = False
        await asyncio.sleep(60.0)
        seen.append(live.snapshot())

    live = live_for(121.0, script, capture_path=path)
    during, after = seen
    assert during.seconds == pytest.approx(60.0, abs=1.1)
    link = next(link for link in during.links if link.device == OwnLink.RECORDER)
    assert not link.up
    assert "free some space" in link.reason
    assert {a.name for a in during.alarms if a.target == OwnLink.RECORDER} == {"recording-stopped"}
    assert next(link for link in after.links if link.device == OwnLink.RECORDER).up
    assert live.closing is not None
    assert live.closing.lost == 0
    recorded = open_recorded(path)
    engine = Engine(recorded.site)
    events = [e for value in recorded.recording.inputs() for e in engine.step(value)]
    assert tuple(events) == live.events(0)


def test_a_disk_nearly_full_is_told_before_it_refuses(tmp_path: Path) -> None:
    """Once below the limit, over only well above it; and never as a silent device."""
    path = tmp_path / "run.capture"
    room = {"free": 10**9}
    seen: list[list[str]] = []

    async def script(live: Live) -> None:
        for free in (199e6, 210e6, 260e6):
            room["free"] = int(free)
            await asyncio.sleep(61.0)
            seen.append([a.name for a in live.snapshot().alarms if a.state == "unacknowledged"])

    live = live_for(
        184.0, script, capture_path=path, free=lambda directory: room["free"] if directory else 0
    )
    assert [("disk-nearly-full" in names) for names in seen] == [True, True, False]
    told = [event for event in live.events(0) if event.target == OwnLink.DISK]
    assert "199 MB free, less than 200 MB" in told[0].words
    assert {event.name for event in told} <= {"down", "up", "disk-nearly-full"}
    recorded = open_recorded(path)
    engine = Engine(recorded.site)
    events = [e for value in recorded.recording.inputs() for e in engine.step(value)]
    assert tuple(events) == live.events(0)


def test_a_disk_that_stays_full_keeps_what_it_had(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "run.capture"
    disk = FullDisk(monkeypatch)

    async def script(_: Live) -> None:
        await asyncio.sleep(30.0)
        disk.full = True

    live = live_for(60.0, script, capture_path=path)
    assert live.snapshot().seconds > 58.0
    assert live.closing is not None
    assert live.closing.lost > 0
    assert "rows were not written" in (live.closing.trouble or "")
    times = [value.seconds for value in open_capture(path).inputs()]
    assert max(times) >= 20.0
    assert open_capture(path).problems.lossless


def test_the_capture_has_each_input_before_the_engine(tmp_path: Path) -> None:
    order: list[str] = []

    class Writer(CaptureWriter):
        def append(self, value: Any) -> None:
            order.append("capture")
            super().append(value)

    class Shown(Showing):
        def step(self, value: Any) -> Any:
            order.append("engine")
            return super().step(value)

    writer = Writer(tmp_path / "x.capture", Header())
    intake = Intake(Shown(config().site), writer)
    intake.take(Tick(1.0, WALL))
    intake.take(Reading(2.0, "shunt", shunt(0.0)))
    assert order == ["capture", "engine"] * 2
    writer.close()


class Blocking:
    """A device whose port blocks the whole acquisition loop when it is opened."""

    name = "charger"
    period_seconds = 1.0

    def __init__(self, release: threading.Event) -> None:
        self.release = release
        self.entered = threading.Event()

    async def open(self) -> None:
        self.entered.set()
        self.release.wait(20.0)

    async def poll(self) -> Values:
        return charger(0.0)

    async def close(self) -> None: ...


class Quick:
    """A device that answers at once."""

    name = "shunt"
    period_seconds = 0.02

    def __init__(self) -> None:
        self.polls = 0

    async def open(self) -> None: ...

    async def poll(self) -> Values:
        self.polls += 1
        return shunt(0.0)

    async def close(self) -> None: ...


async def test_a_blocked_port_never_freezes_whoever_looks() -> None:
    release = threading.Event()
    blocking = Blocking(release)
    live = Live(config(), adapters=[Quick(), blocking])
    await live.start()
    assert await asyncio.to_thread(blocking.entered.wait, 20.0)
    began = time.monotonic()
    live.snapshot()
    live.trend("house", 3600.0, 60)
    live.send(Command(0.0, "owner", Action.NOTE, "house", "hello"))
    assert time.monotonic() - began < 1.0
    release.set()
    async with asyncio.timeout(20.0):
        async for snapshot in live.snapshots():
            if snapshot.last_event and any(
                event.kind is EventKind.COMMAND for event in live.events(0)
            ):
                break
    await live.stop()


async def test_a_stalled_screen_never_stalls_acquisition(tmp_path: Path) -> None:
    path = tmp_path / "run.capture"
    device = Quick()
    live = Live(config(), adapters=[device], capture_path=path, refresh_seconds=0.0)
    await live.start()
    snapshots = live.snapshots()
    await anext(snapshots)
    async with asyncio.timeout(20.0):
        while device.polls < 20:
            # The screen's loop is held up; the acquisition thread goes on.
            time.sleep(0.05)
    await live.stop()
    assert len([v for v in open_capture(path).inputs() if isinstance(v, Reading)]) >= 20
    assert [snapshot async for snapshot in snapshots]


async def test_a_fault_in_the_feed_ends_it_and_is_kept() -> None:
    live = Live(config(), adapters=[Quick()])

    def broken(_: Any) -> Any:
        raise ZeroDivisionError("a fault")

    live._intake.take = broken  # type: ignore[method-assign]
    await live.start()
    async with asyncio.timeout(20.0):
        assert [snapshot async for snapshot in live.snapshots()]
    await live.stop()
    assert isinstance(live.failure, ZeroDivisionError)


def test_raw_bytes_are_recorded_where_asked(tmp_path: Path) -> None:
    path = tmp_path / "run.capture"

    async def script(live: Live) -> None:
        live._raw("shunt")(True, b"\x01\x03")
        live._raw("shunt")(False, b"\x01\x83\x02")
        await asyncio.sleep(1.0)

    live_for(2.0, script, capture_path=path, raw_frames=True)
    frames = list(open_capture(path).frames())
    assert [(f.device, f.sent, f.data) for f in frames] == [
        ("shunt", True, b"\x01\x03"),
        ("shunt", False, b"\x01\x83\x02"),
    ]


def test_a_site_without_devices_still_ticks() -> None:
    live = live_for(5.0, adapters=[])
    assert live.snapshot().seconds == pytest.approx(4.0, abs=1.1)
    assert isinstance(live.site, Site)


def test_an_acknowledged_alarm_is_acknowledged() -> None:
    states: list[AlarmState] = []

    async def script(live: Live) -> None:
        await acknowledge(live)
        await asyncio.sleep(1.0)
        states.extend(alarm.state for alarm in live.snapshot().alarms if alarm.target == "shunt")

    live_for(200.0, script)
    assert states == [AlarmState.ACKNOWLEDGED]


def test_link_states_name_their_reason() -> None:
    seen: list[LinkState] = []
    live = live_for(200.0)
    for event in live.events(0):
        if event.kind is EventKind.LINK and event.target == "shunt" and event.name == "down":
            assert "plug it in again" in event.words
            seen.append(LinkState(event.seconds, event.target, False, event.words))
    assert len(seen) == 1
