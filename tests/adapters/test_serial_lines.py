"""The line reader on a pseudo-terminal, and why a port cannot be opened."""

from __future__ import annotations

import asyncio
import contextlib
import os
import tempfile
import threading
from collections.abc import AsyncIterator, Iterator
from pathlib import Path

import pytest
import serial

from adapters.adapter import DeviceSettings, LinkError, LinkLost, SettingsError, Values
from adapters.lines import LinesAdapter, serial_lines
from adapters.reading import Channel, LinkState, Quantity, Reading
from adapters.serial_port import PortSettings, in_daemon_thread, open_port, why_not
from adapters.supervise import supervise
from tests.adapters.scripted_device import Pty

VOLTS = Channel("house", Quantity.BANK_VOLTS)
AMPS = Channel("house", Quantity.BANK_AMPS)

TALKING = """kind = "lines"
format = "key-value"
pair_separator = ";"
period_seconds = 0.05
[[fields]]
name = "v"
quantity = "bank_volts"
unit = "V"
[[fields]]
name = "i"
quantity = "bank_amps"
unit = "A"
positive = "charging"
"""
ASKED = TALKING.replace("[[fields]]", 'request = "?\\n"\n[[fields]]', 1)

SET = b"v=12.6;i=-4.5\n"
GOOD: Values = ((VOLTS, 12.6), (AMPS, -4.5))


class Tape:
    """Raw frames, and a way to wait until the adapter has seen so many bytes."""

    def __init__(self) -> None:
        self.sent = b""
        self.received = b""
        self.changed = asyncio.Event()

    def __call__(self, sent: bool, data: bytes) -> None:
        if sent:
            self.sent += data
        else:
            self.received += data
        self.changed.set()

    async def until_received(self, count: int) -> None:
        async with asyncio.timeout(5.0):
            while len(self.received) < count:
                self.changed.clear()
                await self.changed.wait()


def settings(path: str, text: str, **options: object) -> DeviceSettings:
    return DeviceSettings(
        "shunt", {"port": path, **options}, text, "lines.toml", bank="house", where="coach.toml"
    )


@contextlib.asynccontextmanager
async def talking(
    text: str = TALKING, **options: object
) -> AsyncIterator[tuple[Pty, LinesAdapter, Tape]]:
    pty, tape = Pty(), Tape()
    adapter = serial_lines(settings(pty.path, text, **options), tape)
    await adapter.open()
    try:
        yield pty, adapter, tape
    finally:
        await adapter.close()
        pty.close()


async def test_a_talking_device_is_read_from_its_second_line_on() -> None:
    async with talking(timeout_seconds=5.0) as (pty, adapter, tape):
        pty.write(b"i=99\n" + SET)  # of what was -4.99, say
        assert await adapter.poll() == GOOD
        assert tape.received == b"i=99\n" + SET
        assert tape.sent == b""


async def test_poll_waits_for_a_set_that_is_still_on_its_way() -> None:
    async with talking(timeout_seconds=5.0) as (pty, adapter, tape):
        poll = asyncio.create_task(adapter.poll())
        pty.write(b"\n" + SET[:9])
        await tape.until_received(10)
        assert not poll.done()
        pty.write(SET[9:])
        assert await poll == GOOD


async def test_the_newest_of_several_sets_is_told() -> None:
    async with talking(timeout_seconds=5.0) as (pty, adapter, tape):
        pty.write(b"\n" + SET)
        await tape.until_received(1 + len(SET))
        assert await adapter.poll() == GOOD
        await asyncio.sleep(0.05)  # the device's period must have passed
        pty.write(b"v=13.0;i=1\n")
        assert await adapter.poll() == ((VOLTS, 13.0), (AMPS, 1.0))


async def test_a_device_that_talks_too_fast_is_thinned() -> None:
    slow = TALKING.replace("period_seconds = 0.05", "period_seconds = 3600")
    async with talking(slow, timeout_seconds=0.2) as (pty, adapter, tape):
        pty.write(b"\n" + SET)
        assert await adapter.poll() == GOOD
        pty.write(SET * 3)
        await tape.until_received(1 + 4 * len(SET))
        with pytest.raises(LinkError):
            await adapter.poll()


async def test_a_device_that_must_be_asked() -> None:
    async with talking(ASKED, timeout_seconds=5.0) as (pty, adapter, tape):
        assert not adapter.unasked
        for number in (1, 2):
            poll = asyncio.create_task(adapter.poll())
            async with asyncio.timeout(5.0):
                while not (asked := read_some(pty)):
                    await asyncio.sleep(0.005)
            assert asked == b"?\n"
            pty.write(SET)
            assert await poll == GOOD
            assert tape.sent == b"?\n" * number


def read_some(pty: Pty) -> bytes:
    with contextlib.suppress(BlockingIOError):
        return os.read(pty.master, 100)
    return b""


@pytest.mark.parametrize(
    ("written", "said"),
    [
        (b"", r"nothing comes within 0\.15 s; check the device's power"),
        (b"\x00\xfe\x80\x7f\n" * 9, r"bytes come, but no line as lines\.toml describes.*now 9600"),
        (
            b"\nv=12.6\nv=12.6\n",
            r"lines come, but no set with bank_amps; correct the fields in lines\.toml",
        ),
    ],
)
async def test_silence_is_told_with_what_did_come(written: bytes, said: str) -> None:
    async with talking(timeout_seconds=0.15) as (pty, adapter, _):
        if written:
            pty.write(written)
        with pytest.raises(LinkError, match=said) as silence:
            await adapter.poll()
        assert not isinstance(silence.value, LinkLost)


async def test_an_unplugged_port_is_lost_at_once() -> None:
    async with talking(timeout_seconds=60.0) as (pty, adapter, _):
        poll = asyncio.create_task(adapter.poll())
        await asyncio.sleep(0)
        pty.close()
        async with asyncio.timeout(5.0):
            with pytest.raises(LinkLost, match="is gone: unplugged"):
                await poll


async def test_unplugged_and_plugged_in_again_under_supervision(tmp_path: Path) -> None:
    """The port is a link that comes to point at another terminal, as by-id names do."""
    first, second = Pty(), Pty()
    port = tmp_path / "by-id"
    port.symlink_to(first.path)
    tape = Tape()
    adapter = serial_lines(settings(str(port), TALKING, timeout_seconds=60.0), tape)
    seen: asyncio.Queue[Reading | LinkState] = asyncio.Queue()
    loop = asyncio.get_running_loop()
    task = asyncio.create_task(supervise(adapter, loop.time, seen.put_nowait))

    async def talk(pty: Pty) -> None:
        while True:
            pty.write(SET)
            await asyncio.sleep(0.02)

    async def link_state() -> LinkState:
        async with asyncio.timeout(10.0):
            while True:
                if isinstance(item := await seen.get(), LinkState):
                    return item

    talker = asyncio.create_task(talk(first))
    assert (await link_state()).up
    talker.cancel()
    port.unlink()
    first.close()
    down = await link_state()
    assert not down.up
    assert "gone" in down.reason
    missing = await link_state()
    assert "no such port" in missing.reason
    port.symlink_to(second.path)
    talker = asyncio.create_task(talk(second))
    assert (await link_state()).up
    for running in (talker, task):
        running.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await running
    assert not [t for t in threading.enumerate() if t.name == f"read {port}"]
    second.close()


async def test_closing_ends_the_thread_and_frees_the_port() -> None:
    async with talking() as (pty, adapter, _):
        await adapter.close()
        assert not [t for t in threading.enumerate() if t.name == f"read {pty.path}"]
        await adapter.open()  # the lock is free again


# --- why a port does not open --------------------------------------------------------------------


def port(path: str) -> PortSettings:
    return PortSettings(path, 9600, "none", 8, 1)


async def test_no_such_port() -> None:
    with pytest.raises(LinkError, match="no such port /dev/no-such-port; plug the adapter in"):
        await open_port(port("/dev/no-such-port"))


async def test_a_port_in_use() -> None:
    pty = Pty()
    with (
        serial.Serial(pty.path, exclusive=True),
        pytest.raises(LinkError, match=f"port {pty.path} is in use by another program; close"),
    ):
        await open_port(port(pty.path))
    pty.close()


@pytest.mark.parametrize("kind", ["file", "folder", "null"])
async def test_not_a_port(kind: str, tmp_path: Path) -> None:
    path = tmp_path / "thing"
    if kind == "file":
        path.write_text("hello")
    elif kind == "folder":
        path.mkdir()
    else:
        path = Path("/dev/null")
    with pytest.raises(LinkError, match=f"{path} is not a serial port; correct the port"):
        await open_port(port(str(path)))


def test_permission_denied() -> None:
    """Not opened for real: a test that runs as root is denied nothing."""
    fault = serial.SerialException(13, "could not open port")
    assert why_not(port("/dev/null"), fault) == (
        "permission denied on port /dev/null; join its group (sudo usermod -aG root $USER), "
        "then log out and in again"
    )


@contextlib.contextmanager
def as_nobody() -> Iterator[None]:
    """Root is denied nothing, so as root become somebody else for a while."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)  # "nobody" by custom
    try:
        yield
    finally:
        os.seteuid(0)


async def test_permission_denied_for_real() -> None:
    with tempfile.TemporaryDirectory() as folder:
        os.chmod(folder, 0o755)
        path = Path(folder, "closed")
        path.touch(mode=0o600)
        os.chmod(path, 0 if os.geteuid() else 0o600)
        with as_nobody(), pytest.raises(LinkError, match=f"permission denied on port {path}; join"):
            await open_port(port(str(path)))


async def test_a_port_that_opens_after_nobody_waits_any_more_is_closed_again() -> None:
    release, discarded = threading.Event(), threading.Event()

    def call() -> str:
        release.wait(5.0)
        return "port"

    waiting = asyncio.create_task(in_daemon_thread(call, discard=lambda _: discarded.set()))
    await asyncio.sleep(0)
    waiting.cancel()
    with pytest.raises(asyncio.CancelledError):
        await waiting
    release.set()
    async with asyncio.timeout(5.0):
        while not discarded.is_set():
            await asyncio.sleep(0.005)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"baud": 9600.5}, "key baud: expected a whole number from 50 to 4000000; found 9600.5"),
        ({"stopbits": 1}, 'key stopbits: unknown key; did you mean "stop_bits"'),
        ({"port": ""}, "key port: expected the path of a serial port"),
    ],
)
def test_a_wrong_option_is_one_line(options: dict[str, object], said: str) -> None:
    path = str(options.pop("port", "/dev/null"))
    with pytest.raises(SettingsError, match=said) as mistake:
        serial_lines(settings(path, TALKING, **options), Tape())
    assert str(mistake.value).startswith("coach.toml, ")
