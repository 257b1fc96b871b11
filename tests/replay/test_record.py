"""Any adapter can be recorded, and one device of a recording is an adapter again."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from adapters.adapter import DeviceSettings, LinkError, LinkLost, SettingsError, Values
from adapters.reading import Action, Channel, Command, Input, LinkState, Quantity, Reading, Tick
from replay.capture import CaptureWriter, Header, open_capture
from replay.player import device
from replay.record import Recorder, record
from tests.replay.values import AMPS, VOLTS, reading


class Shunt:
    """A device that answers twice, is silent for a while, and answers again."""

    name = "shunt"
    period_seconds = 1.0

    def __init__(self) -> None:
        self.polls = 0

    async def open(self) -> None: ...

    async def close(self) -> None: ...

    async def poll(self) -> Values:
        self.polls += 1
        if 3 <= self.polls <= 8:
            raise LinkError("no answer")
        return ((VOLTS, 12.0 + self.polls),)


class Time:
    """A clock that goes on when somebody waits, whatever the machine does meanwhile."""

    def __init__(self) -> None:
        self.now = 50.0
        self.wall_offset = 1.7e9
        self._sleepers: list[tuple[float, int, asyncio.Event]] = []
        self._count = 0

    def clock(self) -> float:
        return self.now

    def wall(self) -> float:
        return self.now + self.wall_offset

    async def sleep(self, seconds: float) -> None:
        event = asyncio.Event()
        self._count += 1
        self._sleepers.append((self.now + max(seconds, 0.0), self._count, event))
        await event.wait()

    async def run(self) -> None:
        while True:
            for _ in range(20):
                await asyncio.sleep(0)
            if self._sleepers:
                self._sleepers.sort(key=lambda sleeper: sleeper[:2])
                due, _, event = self._sleepers.pop(0)
                self.now = max(self.now, due)
                if self.now > 60.0:
                    self.wall_offset = 1.7e9 + 3600.0
                event.set()


async def test_a_recording_holds_readings_silence_and_the_wall_clock(tmp_path: Path) -> None:
    path = tmp_path / "a.capture"
    recorder = Recorder(CaptureWriter(path, Header()))
    time = Time()
    frames = recorder.frames_of("shunt", time.clock)
    frames(True, b"\x01\x03")
    runner = asyncio.create_task(time.run())
    await record([Shunt()], recorder, time.clock, time.wall, seconds=15.0, sleep=time.sleep)
    runner.cancel()
    closing = recorder.close()
    assert closing.lost == 0
    capture = open_capture(path)
    inputs = list(capture.inputs())
    offsets = [v.wall_offset for v in inputs if isinstance(v, Tick) and v.wall_offset is not None]
    assert offsets == [1.7e9, 1.7e9 + 3600.0]
    links = [(v.up, v.reason) for v in inputs if isinstance(v, LinkState)]
    assert links == [(True, ""), (False, "no answer"), (True, "")]
    readings = [v for v in inputs if isinstance(v, Reading)]
    assert [v.values[0][1] for v in readings[:3]] == [13.0, 14.0, 21.0]
    silent = [v for v in inputs if isinstance(v, Tick) and v.wall_offset is None]
    assert silent, "time goes on while nothing speaks"
    assert [f.data for f in capture.frames()] == [b"\x01\x03"]


def test_what_cannot_be_had_again_is_on_disk_at_once(tmp_path: Path) -> None:
    path = tmp_path / "a.capture"
    recorder = Recorder(CaptureWriter(path, Header()))
    recorder.take(reading(1.0, 12.5))
    assert list(open_capture(path).inputs()) == []
    recorder.take(Command(1.2, "Ada", Action.NOTE, "house", "moved the shunt"))
    assert len(list(open_capture(path).inputs())) == 2
    recorder.take(reading(1.5, 12.5))
    recorder.take(LinkState(2.0, "shunt", False, "unplugged"))
    assert len(list(open_capture(path).inputs())) == 4
    assert recorder.trouble is None


def _capture(path: Path, values: list[Input]) -> Path:
    writer = CaptureWriter(path, Header(title="night"))
    for value in values:
        writer.append(value)
    writer.close()
    return path


def _settings(path: Path, **options: object) -> DeviceSettings:
    return DeviceSettings(
        "copy", {"capture": str(path), "rate": "max", **options}, bank="main", where="coach.toml"
    )


def _no_frames(*what: object) -> None:
    raise AssertionError(f"nothing crosses a wire, yet {what} did")


async def test_one_device_of_a_capture_plays_under_the_names_of_the_config(tmp_path: Path) -> None:
    cell = Channel("house#2", Quantity.CELL_VOLTS)
    path = _capture(
        tmp_path / "a.capture",
        [
            reading(1.0, 12.5),
            reading(1.5, 13.5, "other"),
            LinkState(2.0, "shunt", False, "no answer in 5 s"),
            LinkState(2.5, "shunt", True, ""),
            Reading(3.0, "shunt", ((cell, 3.31), (AMPS, 4.0))),
        ],
    )
    played = device(_settings(path, device="shunt"), _no_frames)
    await played.open()
    assert await played.poll() == (
        (Channel("main", Quantity.BANK_VOLTS), 12.5),
        (Channel("main", Quantity.BANK_AMPS), -1.25),
    )
    with pytest.raises(LinkLost, match="no answer in 5 s"):
        await played.poll()
    await played.close()
    await played.open()
    assert await played.poll() == (
        (Channel("main#2", Quantity.CELL_VOLTS), 3.31),
        (Channel("main", Quantity.BANK_AMPS), 4.0),
    )
    with pytest.raises(LinkLost, match="the recording night has ended"):
        await played.poll()
    await played.close()


async def test_a_played_device_begins_again_when_asked(tmp_path: Path) -> None:
    path = _capture(tmp_path / "a.capture", [reading(1.0, 12.5), reading(2.0, 12.6)])
    played = device(_settings(path, loop=True), _no_frames)
    await played.open()
    volts = [(await played.poll())[0][1] for _ in range(5)]
    assert volts == [12.5, 12.6, 12.5, 12.6, 12.5]


async def test_a_played_device_keeps_the_recorded_pace(tmp_path: Path) -> None:
    path = _capture(tmp_path / "a.capture", [reading(float(at), 12.5) for at in range(5)])
    played = device(_settings(path, rate=20), _no_frames)
    assert played.period_seconds == pytest.approx(0.05)
    loop = asyncio.get_running_loop()
    await played.open()
    began = loop.time()
    for _ in range(5):
        await played.poll()
    assert 0.19 <= loop.time() - began < 2.0


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"device": "charger"}, "device: expected one of other, shunt; found 'charger'"),
        ({}, "device: expected one of other, shunt; found None"),
        ({"device": "shunt", "rate": 0}, "rate: expected a number above 0, or max; found 0"),
        ({"device": "shunt", "rate": []}, "rate: expected a number above 0 or max"),
        ({"device": "shunt", "loop": 1}, "loop: expected true or false, found 1"),
        ({"device": "shunt", "speed": 1}, "unknown key speed; use capture, device, loop"),
        ({"capture": "/no/such"}, "/no/such: no such file"),
        ({"capture": 5}, "capture: expected the path of a recording, found 5"),
    ],
)
def test_wrong_settings_are_one_line(tmp_path: Path, options: dict[str, object], said: str) -> None:
    path = _capture(tmp_path / "a.capture", [reading(1.0, 12.5), reading(1.0, 13.5, "other")])
    with pytest.raises(SettingsError) as error:
        device(_settings(path, **options), _no_frames)
    assert str(error.value).startswith(f"coach.toml: {said}")
    assert "\n" not in str(error.value)
