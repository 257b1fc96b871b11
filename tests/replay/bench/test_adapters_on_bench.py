"""The whole way round: recording, bench, wire, adapter, supervise, recorder, capture."""

from __future__ import annotations

import asyncio
import itertools
from pathlib import Path

import pytest

from adapters.adapter import DeviceSettings, Factory
from adapters.description import load_text
from adapters.lines import serial_lines
from adapters.modbus import rtu, tcp
from adapters.reading import LinkState, Quantity, Reading
from replay.capture import CaptureWriter, Header, open_capture
from replay.record import Recorder, record
from tests.replay.bench.test_bench import LINES, MODBUS, Tape, bench, told

_VOLTS, _AMPS = Quantity.BANK_VOLTS, Quantity.BANK_AMPS

#: A device that marks the end of a set, so that a reader that joins it midway finds the beginning.
_MARKED_LINES = LINES.replace("[[", 'end_marker = "---"\n[[', 1)

#: Voltage tells the current, so that figures of two different moments in one reading show.
_TAPE = Tape([told(at / 10, {_VOLTS: 12 + at / 100, _AMPS: float(at)}) for at in range(200)])


def _volts_and_amps(reading: Reading) -> tuple[float, float]:
    figures = {channel.quantity: figure for channel, figure in reading.values}
    volts, amps = figures[_VOLTS], figures[_AMPS]
    assert isinstance(volts, float)
    assert isinstance(amps, float)
    return volts, amps


@pytest.mark.parametrize(
    ("wire", "text", "factory"),
    [
        ("modbus-tcp", MODBUS, tcp),
        ("modbus-rtu", MODBUS, rtu),
        ("serial-lines", _MARKED_LINES, serial_lines),
        ("serial-lines", LINES, serial_lines),
    ],
)
async def test_what_was_recorded_comes_back(
    tmp_path: Path, wire: str, text: str, factory: Factory
) -> None:
    path = tmp_path / "again.capture"
    recorder = Recorder(CaptureWriter(path, Header()))
    loop = asyncio.get_running_loop()
    description = load_text(text, "device.toml")
    async with bench(
        recording=_TAPE, description=description, wire=wire, rate=5.0, loop=True
    ) as place:
        assert place.adapter == wire
        settings = DeviceSettings("shunt", dict(place.options), text, "device.toml", bank="house")
        adapter = factory(settings, recorder.frames_of("shunt", loop.time))
        await record([adapter], recorder, loop.time, loop.time, seconds=1.0)
    recorder.close()
    capture = open_capture(path)
    inputs = list(capture.inputs())
    links = [(value.up, value.reason) for value in inputs if isinstance(value, LinkState)]
    assert links[0][0]
    assert "not available" not in links[0][1]
    readings = [_volts_and_amps(value) for value in inputs if isinstance(value, Reading)]
    assert len(readings) >= 5
    for volts, amps in readings:
        assert volts == pytest.approx(12 + amps / 100, abs=0.006), "figures of one moment"
    risen = [later > earlier for earlier, later in itertools.pairwise(readings)]
    assert any(risen)
    frames = list(capture.frames())
    assert any(not frame.sent for frame in frames)
    assert any(frame.sent for frame in frames) == wire.startswith("modbus")


async def test_unplugged_and_plugged_in_again_under_the_same_name(tmp_path: Path) -> None:
    path, link = tmp_path / "again.capture", tmp_path / "port"
    recorder = Recorder(CaptureWriter(path, Header()))
    loop = asyncio.get_running_loop()
    description = load_text(MODBUS, "device.toml")
    options: dict[str, object] = {"port": str(link), "timeout_seconds": 0.1}
    settings = DeviceSettings("shunt", options, MODBUS, "device.toml", bank="house")
    adapter = rtu(settings, recorder.frames_of("shunt", loop.time))
    recording = asyncio.create_task(record([adapter], recorder, loop.time, loop.time))
    on_wire = {"recording": _TAPE, "description": description, "wire": "modbus-rtu", "link": link}
    for _ in range(2):
        async with bench(**on_wire):
            await _until(path, up=True)
        await _until(path, up=False)
    recording.cancel()
    with pytest.raises(asyncio.CancelledError):
        await recording
    recorder.close()
    states = [v.up for v in open_capture(path).inputs() if isinstance(v, LinkState)]
    assert [up for up, _ in itertools.groupby(states)] in (
        [False, True, False, True, False],
        [True, False, True, False],
    )


async def _until(path: Path, *, up: bool) -> None:
    """Waits for what the capture itself tells; links go to disk at once."""
    async with asyncio.timeout(15):
        while True:
            states = [v.up for v in open_capture(path).inputs() if isinstance(v, LinkState)]
            if states and states[-1] == up:
                return
            await asyncio.sleep(0.05)
