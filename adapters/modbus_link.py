"""pymodbus, made trustworthy: one read at a time, each reply checked, every failure in words.

Measured with pymodbus 3.16.1: a reply of another function, with fewer registers than asked, or
(RTU) a late reply to the request before, all come back as success. So:

* class, function code, device id and number of registers of each reply are checked here;
* after an RTU timeout or a reply that does not fit, the line is left quiet for as long as the
  timeout, so that a late reply has gone by before the next request;
* pymodbus neither retries nor reconnects; `adapters.supervise` does, at its own pace;
* what pymodbus raises inside the loop's callbacks is held back, or it would be printed over the
  screen; so are its log lines.

This module alone knows the inside of pymodbus (version pinned in pyproject.toml).
"""

from __future__ import annotations

import asyncio
import functools
import logging
import os
import socket
import struct
from typing import Final

import serial
from pymodbus.client import AsyncModbusSerialClient, AsyncModbusTcpClient
from pymodbus.exceptions import ConnectionException, ModbusException
from pymodbus.pdu import ExceptionResponse, ModbusPDU
from pymodbus.pdu.register_message import ReadHoldingRegistersResponse, ReadInputRegistersResponse
from pymodbus.transport.serialtransport import SerialTransport

from adapters.adapter import LinkError, LinkLost
from adapters.modbus_line import Frames, Line, join
from adapters.registers import READ_FUNCTION, Block
from adapters.serial_port import PortSettings, close_quietly, open_port

Client = AsyncModbusSerialClient | AsyncModbusTcpClient

_log = logging.getLogger("pymodbus")
_log.addHandler(logging.NullHandler())
_log.propagate = False

_REPLY: Final[dict[str, type[ModbusPDU]]] = {
    "holding": ReadHoldingRegistersResponse,
    "input": ReadInputRegistersResponse,
}

#: Exception codes (Modbus Application Protocol V1.1b3, 7) that say the description is wrong.
REFUSALS: Final = {
    1: "it does not know this table",
    2: "it has no such address",
    3: "it does not allow this many registers",
}
_FAILURES: Final = {
    4: "the device reports a failure of its own",
    5: "the device needs more time",
    6: "the device is busy",
    10: "the gateway has no path to the device",
    11: "the gateway gets no answer from the device",
}


class Refused(Exception):
    """The device will never answer this read; `code` is its exception code."""

    def __init__(self, code: int) -> None:
        super().__init__(f"exception {code}: {REFUSALS[code]}")
        self.code = code


class _OpenedPort(SerialTransport):
    """pymodbus's serial transport on a port that is open already.

    The original opens the port in its constructor, inside the event loop, and only logs why it
    could not. This one takes over what that constructor would have set up.
    """

    def __init__(self, protocol: asyncio.BaseProtocol, port: serial.Serial) -> None:
        asyncio.Transport.__init__(self)
        self.async_loop = asyncio.get_running_loop()
        self.intern_protocol = protocol
        self.sync_serial = port
        self.intern_write_buffer = []
        self.poll_task = None
        self._poll_wait_time = 0.0005  # as pymodbus; used on Windows only
        port.timeout = 0
        port.write_timeout = 0


class ModbusLink:
    """An open way to one Modbus device. `connect` first; then `read`, one at a time; `close`.

    Several links may have one `line`; each waits for its turn.
    """

    def __init__(
        self, line: Line, client: Client, device_id: int, timeout: float, frames: Frames
    ) -> None:
        self._line = line
        self._where = line.where
        self._client = client
        self._device_id = device_id
        self._timeout = timeout
        self._frames = frames
        self._closed = False

    async def read(self, block: Block) -> list[int]:
        """The words of a block; `LinkError` for this time, `Refused` for ever."""
        async with self._line.turn:
            await self._line.quiet()
            self._line.frames = self._frames
            # Each device has its own patience; pymodbus keeps one for each line.
            self._client.ctx.comm_params.timeout_connect = self._timeout
            return await self._exchange(block)

    async def _exchange(self, block: Block) -> list[int]:
        try:
            reply = await self._request(block)
        except ModbusException:
            raise self._failed() from None
        except OSError as fault:
            raise LinkLost(f"{self._where}: the link broke: {fault.strerror or fault}") from None
        except asyncio.CancelledError:
            self._be_quiet()  # its reply is still to come
            raise
        return self._checked(reply, block)

    def _be_quiet(self) -> None:
        self._line.be_quiet(self._timeout)

    async def _request(self, block: Block) -> ModbusPDU:
        client = self._client
        if not client.connected:
            raise LinkLost(f"{self._where}: the link is gone")
        read = (
            client.read_holding_registers
            if block.table == "holding"
            else client.read_input_registers
        )
        return await read(block.address, count=block.count, device_id=self._device_id)

    def _failed(self) -> LinkError:
        self._be_quiet()
        if not self._client.connected:
            return LinkLost(f"{self._where}: the device closed the link")
        return LinkError(
            f"{self._where}: device {self._device_id} gave no answer within {self._timeout:g} s; "
            "check its power, its wiring, its device id and the line settings"
        )

    def _checked(self, reply: ModbusPDU, block: Block) -> list[int]:
        """The words of a reply that answers this very request."""
        expected = READ_FUNCTION[block.table]
        if reply.dev_id != self._device_id:
            raise self._misfit(f"of device {reply.dev_id} to a request to {self._device_id}")
        if reply.function_code & 0x7F != expected:
            raise self._misfit(f"of function {reply.function_code} to one of {expected}")
        asked = self._client.ctx.request_transaction_id
        if reply.transaction_id != asked:
            raise self._misfit(f"numbered {reply.transaction_id} to a request numbered {asked}")
        self._line.understood()
        if isinstance(reply, ExceptionResponse):
            if reply.exception_code in REFUSALS:
                raise Refused(reply.exception_code)
            words = _FAILURES.get(reply.exception_code, "no reason known")
            raise LinkError(f"{self._where}: {words} (exception {reply.exception_code})")
        if not isinstance(reply, _REPLY[block.table]):
            raise self._misfit(f"of an unknown kind to one of function {expected}")
        if len(reply.registers) != block.count:
            raise self._misfit(f"of {len(reply.registers)} registers to a request for {block}")
        return list(reply.registers)

    def _misfit(self, what: str) -> LinkError:
        self._be_quiet()
        return LinkError(f"{self._where}: a reply that does not fit: {what}; not believed")

    def close(self) -> None:
        if not self._closed:
            self._closed = True
            self._line.leave()


async def connect_rtu(
    port: PortSettings, device_id: int, timeout: float, local_echo: bool, frames: Frames
) -> ModbusLink:
    """An open RTU link; `LinkError` says why the port cannot be had. Devices of one line share
    the port (`adapters.modbus_line`)."""

    async def begin(line: Line) -> None:
        line.master = await _client_on(port, timeout, local_echo, line.tell)

    line = await join(port, local_echo, begin)
    assert isinstance(line.master, AsyncModbusSerialClient)
    return ModbusLink(line, line.master, device_id, timeout, frames)


async def _client_on(
    port: PortSettings, timeout: float, local_echo: bool, frames: Frames
) -> AsyncModbusSerialClient:
    """A client on a serial port that is opened for it."""
    opened = await open_port(port)
    client = AsyncModbusSerialClient(
        port.path,
        baudrate=port.baud,
        handle_local_echo=local_echo,
        reconnect_delay=0,
        timeout=timeout,
        retries=0,
        trace_packet=functools.partial(_trace_sent, frames),
    )

    async def create() -> tuple[asyncio.Transport, asyncio.BaseProtocol]:
        transport = _OpenedPort(client.ctx, opened)
        transport.setup()
        return transport, client.ctx

    client.ctx.call_create = create
    _guard(client, frames)
    try:
        await client.connect()
    finally:
        if not client.connected:
            close_quietly(opened)
    return client


async def connect_tcp(
    host: str, port: int, device_id: int, timeout: float, frames: Frames
) -> ModbusLink:
    """An open TCP link; `LinkError` says why there is none."""
    client = AsyncModbusTcpClient(
        host,
        port=port,
        reconnect_delay=0,
        timeout=timeout,
        retries=0,
        trace_packet=functools.partial(_trace_sent, frames),
    )
    faults: list[OSError] = []
    create = client.ctx.call_create

    async def create_or_tell() -> tuple[asyncio.BaseTransport, asyncio.BaseProtocol]:
        try:
            made: tuple[asyncio.BaseTransport, asyncio.BaseProtocol] = await create()
        except OSError as fault:  # pymodbus would only log it
            faults.append(fault)
            raise
        return made

    client.ctx.call_create = create_or_tell
    _guard(client, frames)
    if not await client.connect():
        raise LinkError(_why_no_connection(host, port, timeout, faults[-1] if faults else None))
    line = Line(f"{host}:{port}")
    line.master, line.users = client, 1
    return ModbusLink(line, client, device_id, timeout, frames)


def _why_no_connection(host: str, port: int, timeout: float, fault: OSError | None) -> str:
    if isinstance(fault, socket.gaierror):
        return f"no host named {host}; correct the host or use its address"
    if isinstance(fault, ConnectionRefusedError):
        return (
            f"{host} refuses connections to port {port}; check the port and that the device's "
            "Modbus TCP is switched on"
        )
    if fault is None:
        return f"{host}:{port} does not answer within {timeout:g} s; check address and network"
    words = os.strerror(fault.errno) if fault.errno else str(fault)
    return f"no connection to {host}:{port}: {words}; check address and network"


def _trace_sent(frames: Frames, sending: bool, data: bytes) -> bytes:
    """Note what is sent; what is received pymodbus shows again and again as it grows (`_guard`)."""
    if sending:
        frames(True, bytes(data))
    return data


def _guard(client: Client, frames: Frames) -> None:
    """Stand between the wire and pymodbus.

    Each received piece goes to `frames` once, as it arrived. What parsing it raises is held back:
    pymodbus raises on a frame whose function it does not know, in a callback of the loop, which
    would print a traceback. And a read that waits when the link breaks fails at once.
    """
    context = client.ctx
    receive = context.data_received

    def guarded(data: bytes) -> None:
        frames(False, bytes(data))
        try:
            receive(data)
        except (ModbusException, ValueError, IndexError, struct.error) as fault:
            _log.debug("reply not understood: %s", fault)

    def connection_changed(connected: bool) -> None:
        if not connected and not context.response_future.done():
            context.response_future.set_exception(ConnectionException("the link broke"))
            context.response_future.exception()  # seen, so that the loop does not complain

    context.data_received = guarded  # type: ignore[method-assign]
    context.trace_connect = connection_changed
