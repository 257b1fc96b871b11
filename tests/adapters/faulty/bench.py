"""One device, its reader under supervision, and everything the reader told.

The device counts: every answer carries the next number in voltage, current and temperature, so
that a figure that is torn, late, mixed or of somebody else is known at once.
"""

from __future__ import annotations

import asyncio
import contextlib
import functools
import operator
import os
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, field
from pathlib import Path

from adapters.adapter import Adapter, DeviceSettings, unheard
from adapters.lines import serial_lines
from adapters.modbus import rtu, tcp
from adapters.reading import LinkState, Quantity, Reading
from adapters.supervise import supervise
from tests.adapters.scripted_device import Pty, Reply, Request, RtuDevice, TcpDevice, crc, message

MAP = """kind = "modbus"
period_seconds = {period}
[[registers]]
quantity = "bank_volts"
address = 10
type = "uint16"
scale = 0.01
unit = "V"
[[registers]]
quantity = "bank_amps"
address = 11
type = "int16"
scale = 0.1
unit = "A"
positive = "charging"
[[registers]]
quantity = "bank_celsius"
address = 12
type = "int16"
unit = "°C"
"""
SENTENCES = """kind = "lines"
format = "sentence"
start = "$"
period_seconds = {period}
[[fields]]
sentence = "HOUSE"
position = 1
quantity = "bank_volts"
unit = "V"
[[fields]]
sentence = "HOUSE"
position = 2
quantity = "bank_amps"
unit = "A"
positive = "charging"
[[fields]]
sentence = "HOUSE"
position = 3
quantity = "bank_celsius"
unit = "°C"
"""
#: Numbers before the count begins again: more than are sent in any run between two readings.
ROUND = 400

Mangle = Callable[["Bench", Request, Reply], Reply | str | None]
MangleText = Callable[["Bench", bytes], bytes]


def words_of(count: int) -> list[int]:
    """The registers of one number: 12.00 V and up, an amp that falls, a temperature."""
    place = count % ROUND
    return [1200 + place, (-5 * place) & 0xFFFF, 20 + place % 7]


def sentence_of(count: int) -> bytes:
    place = count % ROUND
    body = f"HOUSE,{(1200 + place) / 100:.2f},{-0.5 * place:.1f},{20 + place % 7}".encode()
    check = functools.reduce(operator.xor, body)
    return b"$" + body + f"*{check:02X}\r\n".encode()


def count_in(reading: Reading) -> int | None:
    """The number that a reading carries; None where its figures do not belong together."""
    figures = {channel.quantity: figure for channel, figure in reading.values}
    volts, amps = figures.get(Quantity.BANK_VOLTS), figures.get(Quantity.BANK_AMPS)
    if not isinstance(volts, float) or len(figures) != 3:
        return None
    place = round(volts * 100) - 1200
    right = figures[Quantity.BANK_CELSIUS] == 20 + place % 7
    return place if right and amps == -0.5 * place and 0 <= place < ROUND else None


@dataclass
class Bench:
    """A device on `wire` ("rtu", "tcp" or "text") and what its reader tells."""

    wire: str
    folder: Path
    timeout: float
    period: float
    echo: bool = False
    mangle: Mangle | None = None
    mangle_text: MangleText | None = None
    count: int = 0
    told: list[Reading | LinkState] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    device: RtuDevice | TcpDevice | None = None
    pty: Pty | None = None
    serving: contextlib.AsyncExitStack = field(default_factory=contextlib.AsyncExitStack)
    last_request: Request | None = None

    def __post_init__(self) -> None:
        self.changed = asyncio.Event()
        self.port = self.folder / "by-id"
        self.tcp_port = 0

    # The device.

    def healthy(self, request: Request) -> Reply:
        self.count += 1
        words = words_of(self.count)
        return Reply(words=words[request.address - 10 :][: request.count])

    def script(self, request: Request) -> Reply | str | None:
        self.last_request = request
        reply = self.healthy(request)
        return reply if self.mangle is None else self.mangle(self, request, reply)

    async def plug(self) -> None:
        """Serve, on whatever terminal or socket there is; the by-id name points there."""
        self.serving = contextlib.AsyncExitStack()
        if self.wire == "tcp":
            device = TcpDevice(self.script)
            device.port = self.tcp_port
            self.device = await self.serving.enter_async_context(device.serving())
            self.tcp_port = device.port
            return
        if self.wire == "rtu":
            self.device = await self.serving.enter_async_context(
                RtuDevice(self.script, echo=self.echo).serving()
            )
            self.pty = self.device.pty
        else:
            self.pty = Pty()
            self.serving.callback(self.pty.close)
            task = asyncio.create_task(self._talk(self.pty))
            self.serving.callback(task.cancel)
        with contextlib.suppress(FileNotFoundError):
            self.port.unlink()
        self.port.symlink_to(self.pty.path)

    async def unplug(self) -> None:
        """The device and its name are gone."""
        if self.wire != "tcp":
            self.port.unlink(missing_ok=True)
        if isinstance(self.device, RtuDevice):
            self.device.unplug()
        await self.serving.aclose()

    async def _talk(self, pty: Pty) -> None:
        while True:
            self.count += 1
            data = sentence_of(self.count)
            if self.mangle_text is not None:
                data = self.mangle_text(self, data)
            self.write(data, pty)
            await asyncio.sleep(self.period)

    def write(self, data: bytes, pty: Pty | None = None) -> None:
        """Bytes on the line from whoever; what a full or closed line does not take is lost."""
        where = pty or self.pty
        if where is not None and data:
            with contextlib.suppress(OSError):
                os.write(where.master, data)

    def frame(self, request: Request, reply: Reply) -> bytes:
        """A whole RTU answer."""
        body = bytes([request.device if reply.device is None else reply.device])
        body += message(request, reply)
        return body + crc(body)

    # The reader.

    def adapter(self) -> Adapter:
        options: dict[str, object] = {"timeout_seconds": self.timeout}
        text = MAP.format(period=self.period)
        if self.wire == "tcp":
            options |= {"host": "127.0.0.1", "port": self.tcp_port}
            return tcp(self._settings(options, text), unheard)
        options |= {"port": str(self.port), "baud": 9600}
        if self.wire == "rtu":
            return rtu(self._settings(options, text), unheard)
        return serial_lines(self._settings(options, SENTENCES.format(period=self.period)), unheard)

    def _settings(self, options: dict[str, object], text: str) -> DeviceSettings:
        return DeviceSettings("shunt", options, text, "map.toml", bank="house")

    def hear(self, item: Reading | LinkState) -> None:
        self.told.append(item)
        if isinstance(item, Reading):
            self._judge(item)
        self.changed.set()

    def _judge(self, reading: Reading) -> None:
        """Right figures that belong together, and of the newest answer but a few."""
        place = count_in(reading)
        if place is None:
            self.wrong.append(f"figures that do not belong together: {reading.values}")
            return
        late = (self.count - place) % ROUND
        allowed = 0 if self.wire != "text" else 4  # a talker may have said more meanwhile
        if late > allowed:
            self.wrong.append(f"figures of {late} answers ago")

    @property
    def readings(self) -> int:
        return sum(isinstance(item, Reading) for item in self.told)

    @property
    def reasons(self) -> list[str]:
        return [item.reason for item in self.told if isinstance(item, LinkState) and not item.up]

    async def until(self, there: Callable[[], bool], seconds: float) -> bool:
        """Wait until something was told; False where the time is up."""
        try:
            async with asyncio.timeout(seconds):
                while not there():
                    self.changed.clear()
                    await self.changed.wait()
        except TimeoutError:
            return False
        return True

    @contextlib.asynccontextmanager
    async def read(self) -> AsyncIterator[None]:
        """The reader at work, in an endless loop of its own."""
        loop = asyncio.get_running_loop()
        task = asyncio.create_task(supervise(self.adapter(), loop.time, self.hear))
        try:
            yield
        finally:
            task.cancel()
            await asyncio.gather(task, return_exceptions=True)
            with contextlib.suppress(OSError):
                await self.serving.aclose()
