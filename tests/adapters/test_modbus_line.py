"""Several devices on one serial line, against a scripted bus on a pseudo-terminal."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest

import adapters.modbus_line as modbus_line
from adapters.adapter import DeviceSettings, LinkError, LinkLost
from adapters.modbus import ModbusAdapter, rtu
from adapters.modbus_line import gap_seconds
from adapters.reading import Channel, LinkState, Quantity, Reading
from adapters.serial_port import PortSettings
from adapters.supervise import supervise
from tests.adapters.scripted_device import Reply, Request, RtuDevice

TIMEOUT = 0.15
VOLTS = Channel("house", Quantity.BANK_VOLTS)
MAP = """kind = "modbus"
period_seconds = 0.05
[[registers]]
quantity = "bank_volts"
address = 10
type = "uint16"
scale = 0.01
unit = "V"
"""


def volts_of(request: Request) -> int:
    """12.01 V from device 1, 12.02 V from device 2: nobody can take one for the other unseen."""
    return 1200 + request.device


def bus(*silent: int) -> Callable[[Request], Reply | None]:
    """All devices but the silent ones answer, each with volts of its own."""

    def script(request: Request) -> Reply | None:
        return None if request.device in silent else Reply(words=[volts_of(request)])

    return script


def device(
    path: str, address: int, frames: list[bytes] | None = None, **more: object
) -> ModbusAdapter:
    settings = DeviceSettings(
        f"device{address}",
        {"port": path, "device_id": address, "timeout_seconds": TIMEOUT, **more},
        description=MAP,
        description_name="map.toml",
        bank="house",
        where="coach.toml [devices.x]",
    )
    return rtu(settings, lambda _sent, data: None if frames is None else frames.append(data))


async def volts(adapter: ModbusAdapter) -> float:
    return float(dict(await adapter.poll())[VOLTS])  # type: ignore[arg-type]


def run(test: Callable[[], Awaitable[None]]) -> None:
    asyncio.run(asyncio.wait_for(test(), 20))  # type: ignore[arg-type]


def test_each_is_asked_in_its_turn_and_answered_as_itself() -> None:
    """Fifty polls of three devices at once: every answer is its own, no request overtakes."""
    waiting: list[int] = []

    def script(request: Request) -> Reply:
        assert not waiting, "a request while another waits for its answer"
        waiting.append(request.device)
        asyncio.get_running_loop().call_later(0.001, waiting.clear)
        return Reply(words=[volts_of(request)], after_seconds=0.002)

    async def test() -> None:
        async with RtuDevice(script).serving() as wire:
            three = [device(wire.pty.path, address) for address in (1, 2, 3)]
            await asyncio.gather(*(each.open() for each in three))
            for _ in range(50):
                told = await asyncio.gather(*map(volts, three))
                assert told == [pytest.approx(12.01), pytest.approx(12.02), pytest.approx(12.03)]
            assert [r.device for r in wire.requests].count(2) == 50
            for each in three:
                await each.close()

    run(test)


def test_a_silent_one_does_not_silence_the_others_nor_do_late_replies_mix() -> None:
    """Device 2 answers after its time, while device 1 is next: its reply must not be taken."""

    def script(request: Request) -> Reply:
        late = 1.2 * TIMEOUT if request.device == 2 else 0.0
        return Reply(words=[volts_of(request)], after_seconds=late)

    async def test() -> None:
        async with RtuDevice(script).serving() as wire:
            one, two = device(wire.pty.path, 1), device(wire.pty.path, 2)
            await one.open()
            await two.open()
            for _ in range(4):
                late, good = await asyncio.gather(volts(two), volts(one), return_exceptions=True)
                assert isinstance(late, LinkError)
                assert "gave no answer" in str(late)
                assert good == pytest.approx(12.01)
            await one.close()
            await two.close()

    run(test)


def test_each_hears_its_own_frames_and_waits_its_own_time() -> None:
    async def test() -> None:
        async with RtuDevice(bus(2)).serving() as wire:
            ours: list[bytes] = []
            theirs: list[bytes] = []
            one = device(wire.pty.path, 1, ours)
            two = device(wire.pty.path, 2, theirs, timeout_seconds=3 * TIMEOUT)
            await one.open()
            await two.open()
            await volts(one)
            loop = asyncio.get_running_loop()
            began = loop.time()
            with pytest.raises(LinkError, match=r"device 2 gave no answer within 0\.45 s"):
                await volts(two)
            assert loop.time() - began >= 3 * TIMEOUT
            assert {frame[0] for frame in ours} == {1}
            assert {frame[0] for frame in theirs} == {2}
            await one.close()
            await two.close()

    run(test)


def test_the_last_one_closes_the_port_and_a_reopened_one_joins() -> None:
    async def test() -> None:
        async with RtuDevice(bus()).serving() as wire:
            one, two = device(wire.pty.path, 1), device(wire.pty.path, 2)
            await one.open()
            await two.open()
            await one.close()
            await one.close()  # a second time is no second leaving
            assert await volts(two) == pytest.approx(12.02)
            await one.open()
            assert await volts(one) == pytest.approx(12.01)
            held = _open_files(wire.pty.path)
            await one.close()
            await two.close()
            assert _open_files(wire.pty.path) == held - 1

    run(test)


def _open_files(path: str) -> int:
    """How often this program has a port open."""
    links = (f"/proc/self/fd/{name}" for name in os.listdir("/proc/self/fd"))
    return sum(os.path.exists(link) and os.path.realpath(link) == path for link in links)


def test_other_settings_on_an_open_line_are_refused_in_one_line() -> None:
    async def test() -> None:
        async with RtuDevice(bus()).serving() as wire:
            one, two = device(wire.pty.path, 1), device(wire.pty.path, 2, baud=9600)
            await one.open()
            with pytest.raises(LinkError, match="open with other line settings") as caught:
                await two.open()
            assert "\n" not in str(caught.value)
            await one.close()

    run(test)


def test_a_line_on_which_nobody_is_understood_is_opened_anew(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Silent devices never leave it all at once; a hanging adapter wakes up all the same."""
    monkeypatch.setattr(modbus_line, "DEAF_SECONDS", 0.0)

    async def test() -> None:
        async with RtuDevice(bus()).serving() as wire:
            one, two = device(wire.pty.path, 1), device(wire.pty.path, 2)
            await one.open()
            await two.open()  # opens anew: nobody was understood
            with pytest.raises(LinkLost):
                await one.poll()
            assert await volts(two) == pytest.approx(12.02)
            await one.close()
            assert await volts(two) == pytest.approx(12.02)
            await two.close()

    run(test)


def test_unplugged_and_plugged_in_again_all_are_back(tmp_path: Path) -> None:
    """Two supervised devices; the adapter goes away in mid-traffic and comes back by its link."""
    link = str(tmp_path / "by-id")

    async def test() -> None:
        first, second = RtuDevice(bus()), RtuDevice(bus())
        heard: list[Reading | LinkState] = []
        os.symlink(first.pty.path, link)
        loop = asyncio.get_running_loop()
        async with first.serving():
            tasks = [
                asyncio.create_task(supervise(device(link, address), loop.time, heard.append))
                for address in (1, 2)
            ]
            await _until(lambda: len(_names(heard, Reading)) == 2)
            first.unplug()
            await _until(lambda: len({d.device for d in _downs(heard)}) == 2)
            os.remove(link)
            os.symlink(second.pty.path, link)
            del heard[:]
            async with second.serving():
                await _until(lambda: len(_names(heard, Reading)) == 2)
                for task in tasks:
                    task.cancel()
                await asyncio.gather(*tasks, return_exceptions=True)
        for reading in heard:
            if isinstance(reading, Reading):
                expected = 12.01 if reading.device == "device1" else 12.02
                assert dict(reading.values)[VOLTS] == pytest.approx(expected)

    run(test)


def _names(heard: list[Reading | LinkState], kind: type) -> set[str]:
    return {each.device for each in heard if isinstance(each, kind)}


def _downs(heard: list[Reading | LinkState]) -> list[LinkState]:
    return [each for each in heard if isinstance(each, LinkState) and not each.up]


async def _until(true: Callable[[], bool]) -> None:
    while not true():
        await asyncio.sleep(0.01)


@pytest.mark.parametrize(
    ("baud", "wanted"), [(9600, 3.5 * 11 / 9600), (19200, 3.5 * 11 / 19200), (38400, 0.00175)]
)
def test_frames_are_apart_as_the_standard_says(baud: int, wanted: float) -> None:
    """Modbus over Serial Line V1.02, 2.5.1.1: 3.5 characters of 11 bits, 1.75 ms above 19 200."""
    assert gap_seconds(PortSettings("x", baud, "even", 8, 1)) == pytest.approx(wanted)
