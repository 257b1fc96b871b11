"""Devices that write text lines on a serial port, read through a device description.

`serial_lines` is the factory behind the adapter name `serial-lines`. One daemon thread per port
does the blocking reads and hands each piece, with the moment of its arrival, to the event loop;
all else happens there (`adapters.line_sets`).
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from typing import Final

import serial

from adapters.adapter import DeviceSettings, LinkError, LinkLost, Values
from adapters.believed import Believed
from adapters.conversion import Decoded
from adapters.line_sets import LineSplitter, SetCollector
from adapters.options import Options, description_of
from adapters.port_reader import PortReader
from adapters.serial_port import PortSettings, in_daemon_thread, open_port, read_port_settings
from adapters.text_lines import LinesDescription

Frames = Callable[[bool, bytes], None]

#: The commonest rate of instruments that write text (NMEA 0183 has 4 800, most others 9 600;
#: common practice).
_BAUD: Final = 9_600

#: Time limit for a device that is asked, as for Modbus.
_ANSWER_SECONDS: Final = 1.0

#: The lines of one set come within this part of the period. From the last line of one set to the
#: first of the next but one it is nearly a whole period; ten lines spread evenly over the period
#: still fit.
_SET: Final = 0.9

#: Of a device that talks faster than the description's period, sets closer together than this
#: part of the period are skipped: jitter loses none of a device that keeps the period.
_THINNING: Final = 0.5


class LinesAdapter:
    """One device that writes lines, as an `adapters.adapter.Adapter`."""

    def __init__(
        self,
        settings: DeviceSettings,
        description: LinesDescription,
        port: PortSettings,
        period: float,
        timeout: float,
        frames: Frames,
    ) -> None:
        self.name = settings.name
        self.period_seconds = period
        self.unasked = not description.request
        self.believed = Believed(settings, description.measurands)
        self._description = description
        self._port = port
        self._timeout = timeout
        self._frames = frames
        self._reader: PortReader | None = None
        self._begin()

    def _begin(self) -> None:
        """Forget all that came before: the port was just opened."""
        description = self._description
        longest = _SET * self.period_seconds if self.unasked else self._timeout
        if description.end_marker:
            longest = max(longest, self._timeout)
        self._splitter = LineSplitter(description.longest_line, joining=self.unasked)
        self._collector = SetCollector(description, longest)
        self._newest: Decoded | None = None
        self._passed_on: float | None = None
        self._changed = asyncio.Event()
        self._lost = ""
        self._bytes = self._lines = 0

    @property
    def remark(self) -> str:
        """What is wrong with a device that works in part; empty when nothing is."""
        return self.believed.remark

    async def open(self) -> None:
        await self.close()
        self._begin()
        opened = await open_port(self._port)
        self._reader = PortReader(opened, self._arrived, self._gone)

    async def poll(self) -> Values:
        if self._reader is None:
            raise LinkError(f"{self.name} is not open")
        if self._description.request:
            self._newest = None
            self._collector.begin()
            await self._ask(self._reader.port)
        decoded = await self._next_set()
        return self.believed.values(decoded)

    async def close(self) -> None:
        if self._reader is not None:
            reader, self._reader = self._reader, None
            await reader.stop()

    async def _ask(self, port: serial.Serial) -> None:
        data = self._description.request.encode("utf-8")
        try:
            async with asyncio.timeout(self._timeout):
                await in_daemon_thread(lambda: port.write(data), discard=lambda _: None)
        except (OSError, TimeoutError):
            raise LinkLost(f"port {self._port.path}: the request cannot be written") from None
        self._frames(True, data)

    async def _next_set(self) -> Decoded:
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(self._timeout):
                while self._newest is None and not self._lost:
                    self._changed.clear()
                    await self._changed.wait()
        if self._newest is None:
            raise LinkLost(self._lost) if self._lost else LinkError(self._why_silent())
        decoded, self._newest = self._newest, None
        self._bytes = self._lines = 0
        return decoded

    def _arrived(self, data: bytes, seconds: float) -> None:
        """A piece has come; called in the event loop."""
        self._frames(False, data)
        self._bytes += len(data)
        for line in self._splitter.feed(data):
            garbage = self._collector.garbage
            decoded = self._collector.feed(line, seconds)
            self._lines += self._collector.garbage == garbage
            if decoded is not None and not self._too_soon(seconds):
                self._passed_on = seconds
                self._newest = decoded
                self._changed.set()

    def _too_soon(self, seconds: float) -> bool:
        if not self.unasked or self._passed_on is None:
            return False
        return seconds - self._passed_on < _THINNING * self.period_seconds

    def _gone(self) -> None:
        """The port has failed; called in the event loop."""
        self._lost = f"port {self._port.path} is gone: unplugged, or its other end has closed"
        self._changed.set()

    def _why_silent(self) -> str:
        where = f"port {self._port.path}"
        if self._lines and (missing := self._collector.missing()):
            names = ", ".join(str(measurand) for measurand in missing)
            return (
                f"{where}: lines come, but no set with {names}; correct the fields in "
                f"{self._description.name}, mark them optional or give an end_marker"
            )
        if self._lines:
            return f"{where}: lines come, but no set is complete; check the end marker"
        if self._bytes:
            return (
                f"{where}: bytes come, but no line as {self._description.name} describes; check "
                f"the baud rate (now {self._port.baud}) and the format"
            )
        return (
            f"{where}: nothing comes within {self._timeout:g} s; check the device's power, its "
            "wiring and the port"
        )


def serial_lines(settings: DeviceSettings, frames: Frames) -> LinesAdapter:
    """A device that writes lines. Options: port, baud, parity, stop_bits, data_bits,
    timeout_seconds, period_seconds."""
    options = Options(settings)
    description = description_of(settings, LinesDescription, 'a description of kind "lines"')
    port = read_port_settings(options, _BAUD)
    period = options.period(description)
    usual = _ANSWER_SECONDS if description.request else 2.0 * period + 1.0
    timeout = options.number("timeout_seconds", usual, 0.05, 7300.0)
    options.done()
    return LinesAdapter(settings, description, port, period, timeout, frames)
