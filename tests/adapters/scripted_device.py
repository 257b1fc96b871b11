"""Devices that misbehave on purpose: a Modbus server on TCP or on a pty, line writers on a pty.

They are written against the standards alone (Modbus Application Protocol V1.1b3, Modbus over
Serial Line V1.02), sharing nothing with the reader that they test.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import struct
import tty
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Request:
    """A read as it came over the wire; `number` counts them from 1."""

    number: int
    device: int
    function: int
    address: int
    count: int
    transaction: int = 0


@dataclass(frozen=True)
class Reply:
    """What goes back. Fields left None are those of a correct reply."""

    words: list[int] | None = None
    exception: int | None = None
    function: int | None = None
    device: int | None = None
    transaction: int | None = None
    raw: bytes | None = None
    after_seconds: float = 0.0


#: None for silence, "hang up" to close the connection.
Script = Callable[[Request], Reply | str | None]


def message(request: Request, reply: Reply) -> bytes:
    """Function code and data of a reply."""
    function = request.function if reply.function is None else reply.function
    if reply.exception is not None:
        return bytes([function | 0x80, reply.exception])
    words = reply.words or []
    return struct.pack(f">BB{len(words)}H", function, 2 * len(words), *words)


def crc(data: bytes) -> bytes:
    """Modbus over Serial Line V1.02, 6.2.2: polynomial 0xA001, low byte first."""
    register = 0xFFFF
    for byte in data:
        register ^= byte
        for _ in range(8):
            register = register >> 1 ^ 0xA001 if register & 1 else register >> 1
    return struct.pack("<H", register)


class TcpDevice:
    """A scripted Modbus TCP server on a port of its own."""

    def __init__(self, script: Script) -> None:
        self.script = script
        self.requests: list[Request] = []
        self.port = 0
        self._served: dict[asyncio.Task[None], asyncio.StreamWriter] = {}

    @contextlib.asynccontextmanager
    async def serving(self) -> AsyncIterator[TcpDevice]:
        server = await asyncio.start_server(self._serve, "127.0.0.1", self.port)
        self.port = server.sockets[0].getsockname()[1]
        try:
            yield self
        finally:
            server.close()
            for writer in self._served.values():
                writer.transport.abort()
            await asyncio.gather(*self._served, return_exceptions=True)
            self._served.clear()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        task = asyncio.current_task()
        assert task is not None
        self._served[task] = writer
        with contextlib.suppress(asyncio.IncompleteReadError, ConnectionError):
            while True:
                head = await reader.readexactly(12)
                transaction, _, _, device, function, address, count = struct.unpack(
                    ">HHHBBHH", head
                )
                number = len(self.requests) + 1
                request = Request(number, device, function, address, count, transaction)
                self.requests.append(request)
                reply = self.script(request)
                if isinstance(reply, str):
                    break
                if reply is not None:
                    await asyncio.sleep(reply.after_seconds)
                    writer.write(self._frame(request, reply))
        writer.close()

    def _frame(self, request: Request, reply: Reply) -> bytes:
        if reply.raw is not None:
            return reply.raw
        body = message(request, reply)
        transaction = request.transaction if reply.transaction is None else reply.transaction
        device = request.device if reply.device is None else reply.device
        return struct.pack(">HHHB", transaction, 0, len(body) + 1, device) + body


class Pty:
    """A pseudo-terminal: `path` is the port that the reader opens, we hold the other end."""

    def __init__(self) -> None:
        self.master, self.slave = os.openpty()
        tty.setraw(self.slave)
        self.path = os.ttyname(self.slave)
        os.set_blocking(self.master, False)

    def write(self, data: bytes) -> None:
        os.write(self.master, data)

    def close(self) -> None:
        """The other end goes away, as when an adapter is unplugged."""
        with contextlib.suppress(OSError):
            os.close(self.slave)
        with contextlib.suppress(OSError):
            os.close(self.master)


class RtuDevice:
    """A scripted Modbus RTU device on a pseudo-terminal."""

    def __init__(self, script: Script, *, echo: bool = False) -> None:
        self.script = script
        self.echo = echo
        self.requests: list[Request] = []
        self.pty = Pty()
        self._buffer = b""

    @contextlib.asynccontextmanager
    async def serving(self) -> AsyncIterator[RtuDevice]:
        loop = asyncio.get_running_loop()
        loop.add_reader(self.pty.master, self._readable)
        try:
            yield self
        finally:
            loop.remove_reader(self.pty.master)
            self.pty.close()

    def unplug(self) -> None:
        asyncio.get_running_loop().remove_reader(self.pty.master)
        self.pty.close()

    def _readable(self) -> None:
        with contextlib.suppress(OSError):
            data = os.read(self.pty.master, 4096)
            if self.echo:
                self.pty.write(data)
            self._buffer += data
        while len(self._buffer) >= 8:
            frame, self._buffer = self._buffer[:8], self._buffer[8:]
            assert crc(frame[:6]) == frame[6:]
            device, function, address, count = struct.unpack(">BBHH", frame[:6])
            request = Request(len(self.requests) + 1, device, function, address, count)
            self.requests.append(request)
            reply = self.script(request)
            if isinstance(reply, Reply):
                self._send(request, reply)

    def _send(self, request: Request, reply: Reply) -> None:
        device = request.device if reply.device is None else reply.device
        body = bytes([device]) + message(request, reply)
        data = body + crc(body) if reply.raw is None else reply.raw
        asyncio.get_running_loop().call_later(reply.after_seconds, self._late, data)

    def _late(self, data: bytes) -> None:
        with contextlib.suppress(OSError):
            self.pty.write(data)
