"""The adapter on python-can's virtual bus, and frames out of trace files of our own."""

from __future__ import annotations

import asyncio
import itertools
import os
import subprocess
import sys
import time
import tty
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import can
import pytest

from adapters.adapter import DeviceSettings, LinkError, LinkLost, SettingsError, unheard
from adapters.extras import install
from adapters.reading import Channel, LinkState, Quantity, Reading
from adapters.rvc import bus as rvc_bus
from adapters.rvc.bus import is_data
from adapters.rvc.device import RvcAdapter, rvc
from adapters.rvc.frames import message
from adapters.rvc.heard import Choices, Heard
from adapters.rvc.table import DC_SOURCE, EXPERIMENTAL
from adapters.supervise import supervise
from tests.adapters.rvc.traffic import (
    CHARGER,
    COACH,
    METER,
    STRANGE,
    can_id,
    charge,
    dc_1,
    dc_2,
    dc_5,
)  # fmt: skip

Q = Quantity
NUMBERS = itertools.count()
BANK = {"dc_instance": 1, "positive": "charging", "timeout_seconds": 5.0}


@pytest.fixture
def channel() -> str:
    return f"test-{next(NUMBERS)}"


@pytest.fixture
def node(channel: str) -> Iterator[can.BusABC]:
    """Another node of the same bus: it speaks, and hears whatever we would send."""
    with can.Bus(channel=channel, interface="virtual", ignore_config=True) as other:
        yield other


@pytest.fixture(autouse=True)
def short_look(monkeypatch: pytest.MonkeyPatch) -> None:
    """Looking around after opening: here everything is said at once."""
    monkeypatch.setattr("adapters.rvc.device._LOOK_SECONDS", 0.05)


def device(channel: str, **options: object) -> RvcAdapter:
    options = {"interface": "virtual", "channel": channel, **(options or BANK)}
    return rvc(
        DeviceSettings("meter", options, bank="house", source="shore", where="coach.toml"), unheard
    )


@asynccontextmanager
async def opened(adapter: RvcAdapter) -> AsyncIterator[RvcAdapter]:
    await adapter.open()
    try:
        yield adapter
    finally:
        await adapter.close()


def say(node: can.BusABC, *frames: tuple[int, bytes], **kind: Any) -> None:
    for arbitration_id, data in frames:
        node.send(
            can.Message(
                **{"arbitration_id": arbitration_id, "data": data, "is_extended_id": True, **kind}
            )
        )


async def test_a_live_bus_and_nothing_is_ever_sent(channel: str, node: can.BusABC) -> None:
    async with opened(device(channel)) as adapter:
        say(node, *STRANGE[:4], *COACH)
        values = dict(await adapter.poll())
        assert values[Channel("house", Q.BANK_VOLTS)] in (13.4, 13.423)
        assert values[Channel("house", Q.BANK_AMPS)] == 25.3
        assert adapter.remark == ""
        say(node, (can_id(0x0EAFF, 0x90), b"\xfd\xff\x01"))  # a request to everybody
        say(node, (can_id(0x1FEC8, METER), dc_5(13.5)))
        while Channel("house", Q.BANK_VOLTS) not in (values := dict(await adapter.poll())):
            pass
        assert values[Channel("house", Q.BANK_VOLTS)] in (13.423, 13.5)
    assert node.recv(0.0) is None


def test_no_code_of_the_package_sends() -> None:
    for module in Path(rvc_bus.__file__).parent.glob("*.py"):
        text = module.read_text()
        assert ".send(" not in text
        assert "send_periodic" not in text


async def test_a_source_and_its_ac_side(channel: str, node: can.BusABC) -> None:
    adapter = device(channel, charger_instance=1, charger_figures="measured", period_seconds=5)
    async with opened(adapter):
        say(node, (can_id(0x1FFC7, CHARGER), charge(14.4, 40.0, 3)))
        assert set(await adapter.poll()) == {
            (Channel("shore", Q.REPORTED_STAGE), "absorption"),
            (Channel("shore", Q.SOURCE_VOLTS), 14.4),
            (Channel("shore", Q.SOURCE_AMPS), 40.0),
        }


async def test_what_is_heard_is_told(channel: str, node: can.BusABC) -> None:
    async with opened(device(channel)) as adapter:
        say(node, (can_id(0x1FFFD, 0x47), dc_1(12.6, -1.0, rank=20, instance=2)))
        say(node, (can_id(0x1FFFD, METER), dc_1(13.4, 25.3)))
        await adapter.poll()
    assert adapter.about == (
        EXPERIMENTAL,
        "DC source 1, address 70, DC_SOURCE_STATUS_1, priority 120: volts 13.4 V, amps 25.3 A",
        "DC source 2, address 71, DC_SOURCE_STATUS_1, priority 20, not asked for: "
        "volts 12.6 V, amps -1 A",
    )


async def test_the_unknown_sign_is_asked_for(channel: str, node: can.BusABC) -> None:
    async with opened(device(channel, dc_instance=1)) as adapter:
        say(node, (can_id(0x1FFFD, METER), dc_1(13.4, 25.3)))
        assert await adapter.poll() == ((Channel("house", Q.BANK_VOLTS), 13.4),)
        assert 'add positive = "charging" or "discharging"' in adapter.remark
        assert any("amps 25.3 A" in line for line in adapter.about)


async def test_another_instance_is_named(channel: str, node: can.BusABC) -> None:
    async with opened(device(channel, dc_instance=3, timeout_seconds=0.3)) as adapter:
        say(node, (can_id(0x1FFFD, METER), dc_1(13.4, 25.3)))
        with pytest.raises(LinkError) as silence:
            await adapter.poll()
    assert str(silence.value) == (
        f"CAN bus {channel}: expected figures of DC source 3 within 0.3 s; heard DC source 1; "
        "check the instance, and that the device is on and wired"
    )


async def test_what_of_the_configured_is_silent_is_a_remark(channel: str, node: can.BusABC) -> None:
    both = {**BANK, "timeout_seconds": 0.3, "charger_instance": 2}
    async with opened(device(channel, **both)) as adapter:
        say(node, (can_id(0x1FFFD, METER), dc_1(13.4, 25.3)))
        assert len(await adapter.poll()) == 2
        assert adapter.remark == "nothing is heard of charger 2; check the instance"


async def test_what_came_and_comes_no_more_is_a_remark(channel: str, node: can.BusABC) -> None:
    async with opened(device(channel)) as adapter, asyncio.timeout(5.0):
        say(node, (can_id(0x1FFFC, METER), dc_2(21.5, 0.87)))
        assert len(await adapter.poll()) == 2
        say(node, (can_id(0x1FFFC, METER), b"\x01\x78" + b"\xff" * 6))
        say(node, (can_id(0x1FFFD, METER), dc_1(13.4, 25.3)))
        while Channel("house", Q.BANK_SOC) in dict(await adapter.poll()):
            pass
        assert "bank_soc is missing: DC_SOURCE_STATUS_2 says no data" in adapter.remark


@pytest.mark.parametrize(
    ("kind", "good"),
    [
        ({}, True),
        ({"is_extended_id": False}, False),
        ({"is_error_frame": True}, False),
        ({"is_remote_frame": True}, False),
        ({"is_fd": True}, False),
    ],
)
def test_only_data_frames_with_long_ids_are_listened_to(kind: dict[str, bool], good: bool) -> None:
    assert is_data(can.Message(arbitration_id=0x123, **kind)) is good


async def test_other_kinds_of_frames_are_no_figures(channel: str, node: can.BusABC) -> None:
    frame = (can_id(0x1FFFD, METER), dc_1(13.4, 25.3))
    async with opened(device(channel, **{**BANK, "timeout_seconds": 0.3})) as adapter:
        say(node, (0x7FD, frame[1]), is_extended_id=False)
        say(node, (frame[0], b""), is_remote_frame=True, dlc=8)
        say(node, frame, is_error_frame=True)
        with pytest.raises(LinkError, match="heard no RV-C message of a bank or a source"):
            await adapter.poll()


async def test_a_bus_that_goes_down_is_lost_in_words(
    channel: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def gone(*_: object, **__: object) -> None:
        raise can.CanOperationError("Network is down", 100)

    async with opened(device(channel)) as adapter:
        monkeypatch.setattr(can.interfaces.virtual.VirtualBus, "_recv_internal", gone)
        with pytest.raises(LinkLost) as lost:
            await adapter.poll()
    line = str(lost.value)
    assert line.startswith(f"CAN bus {channel} is gone: Network is down")
    assert line.endswith("check that it is up")


async def test_a_bus_that_is_not_there_is_one_line() -> None:
    adapter = rvc(
        DeviceSettings("meter", {"channel": "nocan9", **BANK}, bank="house", where="x"), unheard
    )
    with pytest.raises(LinkError) as refused:
        await adapter.open()
    line = str(refused.value)
    assert line.startswith("CAN bus nocan9 cannot be opened: ")
    assert "\n" not in line
    await adapter.close()
    await adapter.close()


async def test_reopened_after_the_bus_went_and_came(
    channel: str, node: can.BusABC, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Under the loop that keeps devices alive: up, down with the reason, up again."""
    told: list[Reading | LinkState] = []
    news = asyncio.Event()

    def emit(one: Reading | LinkState) -> None:
        told.append(one)
        news.set()

    async def until(up: bool) -> None:
        async with asyncio.timeout(5.0):
            while True:
                links = [one for one in told if isinstance(one, LinkState)]
                if links and links[-1].up is up:
                    return
                news.clear()
                say(node, (can_id(0x1FFFD, METER), dc_1(13.4, 25.3)))
                if not links:
                    await asyncio.sleep(0)
                    continue
                await asyncio.wait([asyncio.create_task(news.wait())], timeout=0.05)

    def gone(*_: object, **__: object) -> None:
        raise can.CanOperationError("Network is down", 100)

    adapter = device(channel, **{**BANK, "period_seconds": 0.05})
    clock = asyncio.get_running_loop().time
    task = asyncio.create_task(
        supervise(adapter, clock, emit, sleep=lambda s: asyncio.sleep(min(s, 0.05)))
    )
    try:
        await until(up=True)
        with monkeypatch.context() as broken:
            broken.setattr(can.interfaces.virtual.VirtualBus, "_recv_internal", gone)
            await until(up=False)
        await until(up=True)
    finally:
        task.cancel()
        await asyncio.wait([task])
    reasons = [one.reason for one in told if isinstance(one, LinkState) and not one.up]
    assert reasons
    assert all("Network is down" in reason for reason in reasons)


async def test_a_busy_bus_costs_little_once_filtered(channel: str, node: can.BusABC) -> None:
    """Frames of other DGNs never reach the event loop, however many there are."""
    raw: list[bytes] = []
    adapter = rvc(
        DeviceSettings("meter", {"interface": "virtual", "channel": channel, **BANK}, bank="house"),
        lambda sent, data: raw.append(data) if not sent else None,
    )
    async with opened(adapter):
        say(node, *[(can_id(0x1FEDA, n & 0xFF), bytes(8)) for n in range(2000)])
        say(node, (can_id(0x1FFFD, METER), dc_1(13.4, 25.3)))
        await adapter.poll()
    assert raw == [can_id(0x1FFFD, METER).to_bytes(4, "big") + dc_1(13.4, 25.3)]


async def test_an_idle_bus_costs_next_to_nothing(channel: str) -> None:
    async with opened(device(channel, **{**BANK, "timeout_seconds": 1.0})) as adapter:
        before = time.process_time()
        with pytest.raises(LinkError):
            await adapter.poll()
        assert time.process_time() - before < 0.02 * 1.0 + 0.03  # 2 %, and the poll itself


@pytest.fixture
def serial_adapter(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[int, str]]:
    """A pty that plays a CAN adapter on a serial port: our end, and the name of the port."""
    quick = {**rvc_bus.INTERFACES["slcan"], "sleep_after_open": 0.0}
    monkeypatch.setitem(rvc_bus.INTERFACES, "slcan", quick)
    ours, theirs = os.openpty()
    tty.setraw(ours)
    tty.setraw(theirs)
    yield ours, os.ttyname(theirs)
    os.close(ours)
    os.close(theirs)


async def test_a_serial_adapter_is_told_to_listen_only(serial_adapter: tuple[int, str]) -> None:
    """It is set to 250 kbit/s, opened for listening, and never given a frame."""
    ours, port = serial_adapter
    async with opened(device(port, **{**BANK, "interface": "slcan"})) as adapter:
        frame = (can_id(0x1FFFD, METER), dc_1(13.4, 25.3))
        os.write(ours, f"T{frame[0]:08X}8{frame[1].hex().upper()}\r".encode())
        assert dict(await adapter.poll())[Channel("house", Q.BANK_AMPS)] == 25.3
    commands = os.read(ours, 1000).split(b"\r")
    assert b"S5" in commands  # 250 kbit/s
    assert b"L" in commands  # open, listening only
    assert not [command for command in commands if command[:1] in {b"O", b"t", b"T", b"r", b"R"}]


@pytest.mark.parametrize("garbage", [b"T12\r", b"TZZZZZZZZ8\r", b"\xff\xfe\r", b"T19FFFD4681\r"])
async def test_garbage_of_a_serial_adapter_is_no_figure(
    serial_adapter: tuple[int, str], garbage: bytes
) -> None:
    ours, port = serial_adapter
    options = {**BANK, "interface": "slcan", "timeout_seconds": 0.3}
    async with opened(device(port, **options)) as adapter:
        os.write(ours, garbage)
        with pytest.raises(LinkError) as lost:
            await adapter.poll()
    assert str(lost.value).startswith(f"CAN bus {port}")
    assert "\n" not in str(lost.value)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({}, 'key channel: expected the name of a CAN interface, such as "can0" in quotes'),
        ({"channel": "can0"}, "key dc_instance: expected at least one of dc_instance, charger_i"),
        ({"channel": "can0", "dc_instance": 0}, "from 1 to 252; found 0"),
        ({"channel": "can0", "dc_instance": 1, "bitrate": 5}, "key bitrate: unknown key"),
        ({"channel": "can0", "interface": "cam"}, "expected one of socketcan, slcan, virtual"),
        ({"channel": "can0", "solar_instance": 1, "charger_instance": 1}, "one source for each"),
    ],
)
def test_mistakes_in_the_config_are_one_line(options: dict[str, object], words: str) -> None:
    with pytest.raises(SettingsError) as mistake:
        rvc(DeviceSettings("meter", options, bank="house", where="coach.toml"), unheard)
    line = str(mistake.value)
    assert line.startswith("coach.toml, key ")
    assert words in line
    assert "\n" not in line


def test_without_python_can_it_is_one_line() -> None:
    """In a fresh interpreter where the package cannot be found; listing it needs it not."""
    code = """
import sys
class Hidden:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] == "can":
            raise ModuleNotFoundError(name)
sys.meta_path.insert(0, Hidden())
from importlib import util
found = util.find_spec
util.find_spec = lambda name, package=None: None if name == "can" else found(name, package)
from adapters.adapter import DeviceSettings, SettingsError, unheard
from adapters.installed import load
options = {"channel": "can0", "dc_instance": 1}
try:
    load("rvc")(DeviceSettings("meter", options, bank="house", where="coach.toml"), unheard)
except SettingsError as mistake:
    print(mistake)
"""
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.stderr == ""
    assert done.stdout == (
        "coach.toml: expected the package python-can, which reads a CAN bus; found none; "
        f"install it with: {install('can')}\n"
    )


@pytest.mark.parametrize("ending", ["asc", "log"])
def test_a_trace_file_gives_the_same_figures(tmp_path: Path, ending: str) -> None:
    """Written line by line in the two text forms, read through python-can's own reader."""
    trace = tmp_path / f"coach.{ending}"
    frames = [*STRANGE[:3], *COACH]
    trace.write_text(asc(frames) if ending == "asc" else log(frames))
    heard = Heard(Choices({DC_SOURCE: 1}, "discharging", False, 1.0))
    count = 0
    with can.LogReader(trace) as reader:
        start = None
        for one in reader:
            start = one.timestamp if start is None else start
            said = message(one.arbitration_id, bytes(one.data)) if is_data(one) else None
            if said is not None:
                heard.take(said, one.timestamp - start)
            count += 1
    assert count == len(frames) + 1
    assert {m.quantity: figure for m, figure in heard.figures(2.0).figures.items()} == {
        Q.BANK_VOLTS: 13.423, Q.BANK_AMPS: -25.3, Q.BANK_CELSIUS: 21.5, Q.BANK_SOC: 0.87,
    }  # fmt: skip


def asc(frames: list[tuple[int, bytes]]) -> str:
    head = "date Wed Nov 25 12:00:00.000 2026\nbase hex  timestamps absolute\n"
    head += "internal events logged\nBegin Triggerblock Wed Nov 25 12:00:00.000 2026\n"
    head += " 0.000000 Start of measurement\n"
    rows = [" 0.000000 1  7FD             Rx   d 2 01 02"]
    rows += [
        f" {n / 10:.6f} 1  {can:X}x       Rx   d {len(data)} {data.hex(' ').upper()}"
        for n, (can, data) in enumerate(frames, 1)
    ]
    return head + "\n".join(rows) + "\n"


def log(frames: list[tuple[int, bytes]]) -> str:
    rows = ["(1795608000.000000) can0 7FD#0102"]
    rows += [
        f"({1795608000 + n / 10:.6f}) can0 {can:08X}#{data.hex().upper()}"
        for n, (can, data) in enumerate(frames, 1)
    ]
    return "\n".join(rows) + "\n"
