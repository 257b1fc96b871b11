"""A Modbus device that holds the figures of a recording, on TCP or on a pseudo-terminal.

The registers of the description exist and no others: a read that touches any other address is
refused with exception 2, as devices do, and so is writing. A figure that is missing becomes "not
available" where the description has a raw number for that; a device without one goes on telling
its last figure, as such devices do, and before its first tells that. A figure that the recording
never holds and that cannot be told as missing has no registers at all. While the recorded device
was silent, nothing is answered.
"""

from __future__ import annotations

import asyncio
import errno
import logging
import os
import socket
from pathlib import Path
from typing import Final, cast

from pymodbus.constants import ExcCodes
from pymodbus.server import ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from adapters.registers import READ_FUNCTION, ModbusDescription
from replay.bench.figures import BenchError, Figures
from replay.bench.pty_line import PtyLine

# Errors of the server would be printed over whatever the terminal shows.
_log = logging.getLogger("pymodbus")
_log.addHandler(logging.NullHandler())
_log.propagate = False

_TABLE: Final = {function: table for table, function in READ_FUNCTION.items()}


class ModbusImage:
    """The registers of the device at this moment.

    `never_missing` are figures that this device cannot tell as missing: it goes on with the last.
    """

    def __init__(self, description: ModbusDescription, figures: Figures) -> None:
        self._description = description
        self.never_missing = tuple(
            register.conversion.measurand
            for register in description.registers
            if register.raw(None) is None and register.conversion.measurand in figures.last
        )
        self._words = description.encode(figures.last)
        self.silent = False

    def show(self, figures: Figures) -> None:
        kept = {measurand: figures.last[measurand] for measurand in self.never_missing}
        self._words.update(self._description.encode({**figures.now, **kept}))
        self.silent = figures.silent

    def device(self, device_id: int) -> SimDevice:
        """The device for pymodbus's server, with no register but those of the image."""
        bits = [SimData(0, values=False, datatype=DataType.BITS, readonly=True)]
        return SimDevice(
            device_id,
            (bits, list(bits), self._table("holding"), self._table("input")),
            action=self._refresh,
        )

    def _table(self, table: str) -> list[SimData]:
        """One entry for each register; pymodbus wants at least one, which may be invalid."""
        return [
            SimData(address, values=word, datatype=DataType.REGISTERS, readonly=True)
            for (name, address), word in sorted(self._words.items())
            if name == table
        ] or [SimData(0, datatype=DataType.INVALID)]

    async def _refresh(
        self,
        function: int,
        start: int,
        address: int,
        count: int,
        registers: list[int],
        written: list[int] | list[bool] | None,
    ) -> ExcCodes | None:
        """pymodbus asks before each answer: put the words of this moment in their places."""
        table = _TABLE.get(function)
        if table is None or written is not None:
            return ExcCodes.ILLEGAL_FUNCTION
        for at in range(address, address + count):
            registers[at - start] = self._words[table, at]
        return None


class TcpWire:
    """The device on a TCP port; port 0 takes any that is free."""

    adapter: Final = "modbus-tcp"

    def __init__(
        self, image: ModbusImage, description: ModbusDescription, host: str, port: int
    ) -> None:
        self._image = image
        self._device_id = description.device_id
        self._host, self._port = host, port

    async def start(self) -> dict[str, object]:
        _check_address(self._host, self._port)
        self._server = ModbusTcpServer(
            self._image.device(self._device_id),
            address=(self._host, self._port),
            trace_packet=self._or_silence,
        )
        await self._server.serve_forever(background=True)
        listener = cast(asyncio.Server, self._server.transport)
        port = listener.sockets[0].getsockname()[1]
        return {"host": self._host, "port": port, "device_id": self._device_id}

    def show(self, figures: Figures) -> None:
        self._image.show(figures)

    async def stop(self) -> None:
        await self._server.shutdown()  # type: ignore[no-untyped-call]  # pymodbus leaves it so

    def _or_silence(self, sending: bool, data: bytes) -> bytes:
        return b"" if sending and self._image.silent else data


class RtuWire:
    """The device on a pseudo-terminal; its server has one of its own, and bytes are passed on."""

    adapter: Final = "modbus-rtu"

    def __init__(
        self, image: ModbusImage, description: ModbusDescription, link: Path | None
    ) -> None:
        self._image = image
        self._device_id = description.device_id
        self._link = link

    async def start(self) -> dict[str, object]:
        self._outside = PtyLine(lambda data: self._inside.write(data), self._link)
        self._inside = PtyLine(lambda data: self._outside.write(data), None)
        self._server = ModbusSerialServer(
            self._image.device(self._device_id),
            port=self._inside.device,
            trace_packet=self._or_silence,
        )
        await self._server.serve_forever(background=True)
        return {"port": self._outside.path, "device_id": self._device_id}

    def show(self, figures: Figures) -> None:
        self._image.show(figures)

    async def stop(self) -> None:
        await self._server.shutdown()  # type: ignore[no-untyped-call]  # pymodbus leaves it so
        self._inside.close()
        self._outside.close()

    def _or_silence(self, sending: bool, data: bytes) -> bytes:
        """Silence where the device is silent, and for other ids: those are other devices."""
        if sending and (self._image.silent or data[:1] != bytes([self._device_id])):
            return b""
        return data


def _check_address(host: str, port: int) -> None:
    """Binds once to learn why it cannot be done: the server itself only logs the reason."""
    if not 0 <= port <= _LAST_PORT:
        raise BenchError(f"port {port}: expected a number from 0 to {_LAST_PORT}")
    try:
        family, _, _, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family, socket.SOCK_STREAM) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(address)
            probe.listen()
    except socket.gaierror:
        raise BenchError(f"host {host}: no such name; use 127.0.0.1 or 0.0.0.0") from None
    except OSError as error:
        code = error.errno or 0
        why = _WHY_NOT.get(code, os.strerror(code) if code else str(error))
        raise BenchError(f"port {port} on {host}: {why}") from None


_LAST_PORT: Final = 65_535  # TCP has 16 bits for it

_WHY_NOT: Final = {
    errno.EADDRINUSE: "in use by another program; close it or choose another port",
    errno.EACCES: "permission denied; choose a port above 1023",
    errno.EADDRNOTAVAIL: "this machine has no such address; use 127.0.0.1 or 0.0.0.0",
}
