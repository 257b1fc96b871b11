"""The bench on the wire, read by clients that are not ours: pymodbus's and pyserial."""

from __future__ import annotations

import asyncio
import itertools
import json
import os
import socket
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
import serial
from pymodbus.client import AsyncModbusSerialClient, AsyncModbusTcpClient
from pymodbus.exceptions import ModbusIOException

from adapters.conversion import Measurand
from adapters.description import load_text
from adapters.reading import Channel, Input, LinkState, Quantity, Reading
from replay.bench.figures import BenchError, Chosen, Figures
from replay.bench.pty_line import PtyLine, unread
from replay.bench.serve import BenchSettings, Place, serve
from replay.header import Header

MODBUS = """
kind = "modbus"
device_id = 7
period_seconds = 0.05
[[registers]]
quantity = "bank_volts"
unit = "V"
table = "input"
address = 100
type = "uint16"
scale = 0.01
[[registers]]
quantity = "bank_amps"
unit = "A"
table = "input"
address = 101
type = "int32"
scale = 0.001
positive = "discharging"
[[registers]]
quantity = "bank_celsius"
unit = "°C"
table = "holding"
address = 5
type = "int16"
scale = 0.1
absent = 0x7FFF
"""

LINES = """
kind = "lines"
format = "key-value"
period_seconds = 0.05
[[fields]]
name = "U"
quantity = "bank_volts"
unit = "V"
decimals = 2
[[fields]]
name = "I"
quantity = "bank_amps"
unit = "A"
positive = "charging"
"""

VOLTS, AMPS, CELSIUS = Quantity.BANK_VOLTS, Quantity.BANK_AMPS, Quantity.BANK_CELSIUS


class Tape:
    def __init__(self, values: list[Input]) -> None:
        self.header = Header()
        self.title = "tape"
        self.start, self.end = values[0].seconds, values[-1].seconds
        self._values = values

    def inputs(self) -> Iterator[Input]:
        return iter(self._values)


def told(at: float, figures: dict[Quantity, float], device: str = "shunt") -> Reading:
    return Reading(at, device, tuple((Channel("house", q), f) for q, f in figures.items()))


#: Hours long, so that nothing ends while a test reads.
LONG = Tape(
    [
        told(0.0, {VOLTS: 12.71, AMPS: -3.25, CELSIUS: 21.5}),
        told(1000.0, {VOLTS: 13.8, AMPS: 40.0}),
        told(9000.0, {VOLTS: 13.9}),
    ]
)


@asynccontextmanager
async def bench(**settings: object) -> AsyncIterator[Place]:
    place: asyncio.Future[Place] = asyncio.get_running_loop().create_future()
    task = asyncio.create_task(serve(BenchSettings(**settings), place.set_result))  # type: ignore[arg-type]
    await asyncio.wait([task, place], return_when=asyncio.FIRST_COMPLETED)
    if task.done():
        task.result()
    yield await place
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task


@asynccontextmanager
async def tcp_client(place: Place) -> AsyncIterator[AsyncModbusTcpClient]:
    client = AsyncModbusTcpClient(
        str(place.options["host"]), port=place.options["port"], timeout=1, retries=0
    )
    assert await client.connect()
    yield client
    client.close()


async def test_tcp_tells_the_figures_of_the_moment() -> None:
    description = load_text(MODBUS, "shunt.toml")
    async with bench(recording=LONG, description=description) as place:
        assert json.loads(place.as_json()) == {"adapter": "modbus-tcp", **place.options}
        async with tcp_client(place) as client:
            reply = await client.read_input_registers(100, count=3, device_id=7)
            assert reply.registers[0] == 1271
            assert client.convert_from_registers(reply.registers[1:], client.DATATYPE.INT32) == 3250
            reply = await client.read_holding_registers(5, count=1, device_id=7)
            assert reply.registers == [215]


async def test_missing_figures_are_told_as_missing_or_kept() -> None:
    description = load_text(MODBUS, "shunt.toml")
    async with bench(recording=LONG, description=description, seek=9000.0, rate=0.001) as place:
        assert "bank_amps" in place.notes[0]
        assert "bank_celsius" not in place.notes[0]
        async with tcp_client(place) as client:
            volts = await client.read_input_registers(100, count=3, device_id=7)
            assert volts.registers[0] == 1390
            amps = client.convert_from_registers(volts.registers[1:], client.DATATYPE.INT32)
            assert amps == -40_000, "it has no way to say that the figure is missing"
            celsius = await client.read_holding_registers(5, count=1, device_id=7)
            assert celsius.registers == [0x7FFF]


async def test_only_described_registers_exist_and_none_can_be_written() -> None:
    description = load_text(MODBUS, "shunt.toml")
    async with bench(recording=LONG, description=description) as place, tcp_client(place) as client:
        for refused in (
            client.read_input_registers(99, count=2, device_id=7),
            client.read_input_registers(103, count=1, device_id=7),
            client.read_holding_registers(100, count=1, device_id=7),
            client.write_register(5, 1, device_id=7),
        ):
            reply = await refused
            assert reply.isError()
            assert reply.exception_code in (1, 2)
        reply = await client.read_holding_registers(5, count=1, device_id=7)
        assert reply.registers == [215]


async def test_a_silent_device_does_not_answer() -> None:
    tape = Tape(
        [
            told(0.0, {VOLTS: 12.71, AMPS: -3.25}),
            LinkState(1.0, "shunt", False, "no answer"),
            LinkState(9000.0, "shunt", True, ""),
        ]
    )
    description = load_text(MODBUS, "shunt.toml")
    async with bench(recording=tape, description=description, seek=5.0) as place:
        client = AsyncModbusTcpClient(
            "127.0.0.1", port=place.options["port"], timeout=0.2, retries=0
        )
        assert await client.connect()
        with pytest.raises(ModbusIOException):
            await client.read_input_registers(100, count=1, device_id=7)
        client.close()


async def test_figures_follow_the_recording_at_its_rate() -> None:
    tape = Tape([told(float(at), {VOLTS: 10.0 + at / 100, AMPS: 0.0}) for at in range(3000)])
    description = load_text(MODBUS, "shunt.toml")
    loop = asyncio.get_running_loop()
    async with (
        bench(recording=tape, description=description, rate=200.0) as place,
        tcp_client(place) as client,
    ):
        seen: list[tuple[float, float]] = []
        for _ in range(30):
            reply = await client.read_input_registers(100, count=1, device_id=7)
            seen.append((loop.time(), (reply.registers[0] / 100 - 10.0) * 100))
            await asyncio.sleep(0.01)
        figures = [figure for _, figure in seen]
        assert figures == sorted(figures)
        passed = seen[-1][0] - seen[0][0]
        played = seen[-1][1] - seen[0][1]
        # A busy machine may hold either side back for a while, hence the wide margin.
        assert 0.5 * 200 * passed < played < 1.5 * 200 * passed + 20


async def test_rtu_on_a_pseudo_terminal_with_a_lasting_name(tmp_path: Path) -> None:
    description = load_text(MODBUS, "shunt.toml")
    link = tmp_path / "shunt"
    settings = {"recording": LONG, "description": description, "wire": "modbus-rtu", "link": link}
    for volts, seek in ((1271, 0.0), (1380, 1000.0)):
        async with bench(**settings, seek=seek) as place:
            assert place.options == {"port": str(link), "device_id": 7}
            assert os.readlink(link).startswith("/dev/pts/")
            client = AsyncModbusSerialClient(str(link), baudrate=19200, timeout=1, retries=0)
            assert await client.connect()
            for _ in range(3):
                reply = await client.read_input_registers(100, count=3, device_id=7)
                assert reply.registers[0] == volts
            with pytest.raises(ModbusIOException):  # another device on the line: not ours to answer
                await client.read_input_registers(100, count=1, device_id=9)
            client.close()
        assert not os.path.lexists(link)


def _read_lines(port: serial.Serial, count: int) -> list[bytes]:
    return [port.readline() for _ in range(count)]


async def test_lines_are_spoken_unasked(tmp_path: Path) -> None:
    description = load_text(LINES, "lines.toml")
    link = tmp_path / "port"
    async with bench(recording=LONG, description=description, link=link) as place:
        assert place.adapter == "serial-lines"
        with serial.Serial(str(link), 9600, timeout=2, exclusive=True) as port:
            lines = await asyncio.to_thread(_read_lines, port, 4)
    assert sorted(set(lines)) == [b"I=-3.250\r\n", b"U=12.71\r\n"]


async def test_lines_are_given_when_asked(tmp_path: Path) -> None:
    description = load_text(LINES.replace("[[", 'request = "READ\\r\\n"\n[[', 1), "lines.toml")
    link = tmp_path / "port"
    async with bench(recording=LONG, description=description, link=link):
        with serial.Serial(str(link), 9600, timeout=0.2) as port:
            assert await asyncio.to_thread(port.readline) == b""
            port.timeout = 2
            port.write(b"noiseREAD\r")
            port.write(b"\nREA")
            lines = await asyncio.to_thread(_read_lines, port, 2)
            assert sorted(lines) == [b"I=-3.250\r\n", b"U=12.71\r\n"]
            port.timeout = 0.2
            assert await asyncio.to_thread(port.readline) == b""


async def test_what_nobody_reads_is_lost_and_the_newest_is_there() -> None:
    line = PtyLine(lambda _: None, None)
    terminal = os.open(line.device, os.O_RDWR | os.O_NOCTTY)
    highest = 0
    for number in range(100):
        before = unread(terminal)
        line.write(b"line %06d %s\r\n" % (number, b"x" * 86))
        async with asyncio.timeout(5):  # the kernel hands bytes over in its own time
            while unread(terminal) == before:
                await asyncio.sleep(0)
        highest = max(highest, unread(terminal))
    waiting = os.read(terminal, 65536)
    os.close(terminal)
    line.close()
    assert waiting.startswith(b"line ")
    assert waiting.splitlines()[-1].startswith(b"line 000099")
    assert 1000 < highest <= 2048


async def test_lines_fall_silent_with_the_recorded_device(tmp_path: Path) -> None:
    spoken = told(0.0, {VOLTS: 12.71, AMPS: -3.25})
    tape = Tape([spoken, LinkState(1.0, "shunt", False, "gone"), told(9000.0, {VOLTS: 13.0})])
    description = load_text(LINES, "lines.toml")
    link = tmp_path / "port"
    async with bench(recording=tape, description=description, link=link, seek=5.0):
        with serial.Serial(str(link), 9600, timeout=0.3) as port:
            assert await asyncio.to_thread(port.readline) == b""


def test_a_device_is_heard_again_by_a_reading_or_by_its_link() -> None:
    spoken = told(0.0, {VOLTS: 12.71})
    figures = Figures(Tape([spoken]), [Measurand(VOLTS)], Chosen())
    for back in (told(3.0, {VOLTS: 12.8}), LinkState(3.0, "shunt", True, "")):
        assert figures.take(spoken)
        assert figures.take(LinkState(1.0, "shunt", False, "gone"))
        assert not figures.take(LinkState(2.0, "another", True, ""))
        assert figures.silent
        assert figures.now == {}
        assert figures.take(back)
        assert not figures.silent
        assert figures.now


async def test_it_ends_with_the_recording_or_begins_again() -> None:
    tape = Tape([told(0.0, {VOLTS: 12.0, AMPS: 0.0}), told(1.0, {VOLTS: 13.0, AMPS: 0.0})])
    description = load_text(MODBUS, "shunt.toml")
    settings = BenchSettings(tape, description, rate=20.0)
    await asyncio.wait_for(serve(settings, _unheeded), 5)
    async with (
        bench(recording=tape, description=description, rate=20.0, loop=True) as place,
        tcp_client(place) as client,
    ):
        seen = []
        for _ in range(60):
            reply = await client.read_input_registers(100, count=1, device_id=7)
            seen.append(reply.registers[0])
            await asyncio.sleep(0.005)
    falls = sum(later < earlier for earlier, later in itertools.pairwise(seen))
    assert falls >= 1


def _unheeded(place: Place) -> None:
    assert place.options


async def _refusal(**settings: object) -> str:
    with pytest.raises(BenchError) as error:
        await serve(BenchSettings(**settings), _unheeded)  # type: ignore[arg-type]
    assert "\n" not in str(error.value)
    return str(error.value)


async def test_what_cannot_be_set_up_is_one_line(tmp_path: Path) -> None:
    modbus, lines = load_text(MODBUS, "shunt.toml"), load_text(LINES, "lines.toml")
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        said = await _refusal(recording=LONG, description=modbus, port=port)
        assert said.startswith(f"port {port} on 127.0.0.1: in use by another program")
    assert "no such name" in await _refusal(recording=LONG, description=modbus, host="no host")
    assert "no such address" in await _refusal(
        recording=LONG, description=modbus, host="203.0.113.5"
    )
    assert "expected a number" in await _refusal(recording=LONG, description=modbus, port=70000)
    assert "rate: max cannot" in await _refusal(
        recording=LONG, description=modbus, rate=float("inf")
    )
    assert "use serial-lines" in await _refusal(
        recording=LONG, description=lines, wire="modbus-tcp"
    )
    file = tmp_path / "file"
    file.write_text("mine")
    said = await _refusal(recording=LONG, description=lines, link=file)
    assert said.startswith(f"{file}: exists and is no link to a terminal")
    assert file.read_text() == "mine"
    said = await _refusal(recording=LONG, description=lines, link=tmp_path / "no" / "port")
    assert "link cannot be made" in said


def test_what_would_have_to_be_guessed_is_asked() -> None:
    start = Channel("start", VOLTS)
    tape = Tape([told(0.0, {VOLTS: 12.0}), Reading(1.0, "other", ((start, 12.9),))])
    wanted = [Measurand(VOLTS)]
    with pytest.raises(BenchError, match=r"holds the banks house, start; .* --of"):
        Figures(tape, wanted, Chosen())
    for chosen in (Chosen(bank="start"), Chosen(device="other")):
        figures = Figures(tape, wanted, chosen)
        for value in tape.inputs():
            figures.take(value)
        assert figures.now == {Measurand(VOLTS): 12.9}
    with pytest.raises(BenchError, match="holds nothing of device other that the description"):
        Figures(tape, [Measurand(Quantity.AC_VOLTS)], Chosen(device="other"))
    for chosen, said in (
        (Chosen(bank="cabin"), r"--of: expected a bank of x\.capture \(house, start\), found"),
        (Chosen(source="roof"), r"--source: expected a source of x\.capture \(none\), found"),
        (Chosen(device="wind"), r"--device: expected a device of x\.capture \(other, "),
    ):
        with pytest.raises(BenchError, match=said):
            Figures(tape, wanted, chosen, "x.capture")
    with pytest.raises(BenchError, match=r"^x\.capture: holds the banks"):
        Figures(tape, wanted, Chosen(), "x.capture")
    with pytest.raises(BenchError, match=r"holds nothing that the description tells \(ac_volts\)"):
        Figures(tape, [Measurand(Quantity.AC_VOLTS)], Chosen())


def test_a_figure_missing_from_a_reading_is_missing_from_then_on() -> None:
    cell = Channel("house#3", Quantity.CELL_VOLTS)
    tape = Tape(
        [
            Reading(0.0, "shunt", ((Channel("house", VOLTS), 13.2), (cell, 3.3))),
            told(1.0, {VOLTS: 13.3}),
        ]
    )
    third = Measurand(Quantity.CELL_VOLTS, 3)
    figures = Figures(tape, [Measurand(VOLTS), third], Chosen())
    first, second = tape.inputs()
    assert figures.take(first)
    assert figures.now == {Measurand(VOLTS): 13.2, third: 3.3}
    assert figures.take(second)
    assert figures.now == {Measurand(VOLTS): 13.3}
