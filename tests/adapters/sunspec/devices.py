"""SunSpec devices for tests: a script for the misbehaving device, and pymodbus's own server."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Mapping
from typing import cast

from pymodbus.server import ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from adapters.adapter import DeviceSettings, Values, unheard
from adapters.reading import Channel
from adapters.sunspec.device import SunSpecAdapter, sunspec
from tests.adapters.scripted_device import Reply, Request, RtuDevice, Script, TcpDevice

#: Long enough for a busy machine; what stays silent costs a test this much.
TIMEOUT = 0.6


def serving(image: Mapping[int, int]) -> Script:
    """A device with these holding registers and no others; the image may change meanwhile."""

    def script(request: Request) -> Reply:
        asked = range(request.address, request.address + request.count)
        if request.function != 3:
            return Reply(exception=1)
        if any(address not in image for address in asked):
            return Reply(exception=2)
        return Reply(words=[image[address] for address in asked])

    return script


def settings(**options: object) -> DeviceSettings:
    """Settings of a device that belongs to a bank and a source, unless they say otherwise."""
    given = {"timeout_seconds": TIMEOUT, **options}
    bank, source = given.pop("bank", "house"), given.pop("source", "roof")
    return DeviceSettings(
        "sun",
        given,
        bank=cast("str | None", bank),
        source=cast("str | None", source),
        where="coach.toml:7 [devices.sun]",
    )


@contextlib.asynccontextmanager
async def on_tcp(script: Script, **options: object) -> AsyncIterator[SunSpecAdapter]:
    async with TcpDevice(script).serving() as device:
        adapter = sunspec(settings(host="127.0.0.1", port=device.port, **options), unheard)
        adapter.device = device  # type: ignore[attr-defined]
        try:
            await adapter.open()
            yield adapter
        finally:
            await adapter.close()


@contextlib.asynccontextmanager
async def on_a_line(script: Script, **options: object) -> AsyncIterator[SunSpecAdapter]:
    async with RtuDevice(script).serving() as device:
        adapter = sunspec(settings(port=device.pty.path, **options), unheard)
        adapter.device = device  # type: ignore[attr-defined]
        try:
            await adapter.open()
            yield adapter
        finally:
            await adapter.close()


@contextlib.asynccontextmanager
async def pymodbus_server(image: Mapping[int, int]) -> AsyncIterator[int]:
    """pymodbus's server with this image as holding registers; gives its port."""
    words = [
        SimData(address, values=word, datatype=DataType.REGISTERS)
        for address, word in sorted(image.items())
    ]
    bits = [SimData(0, values=False, datatype=DataType.BITS)]
    none = [SimData(0, datatype=DataType.INVALID)]
    server = ModbusTcpServer(
        SimDevice(1, (bits, list(bits), words, none)), address=("127.0.0.1", 0)
    )
    await server.serve_forever(background=True)
    listener = cast(asyncio.Server, server.transport)
    try:
        yield listener.sockets[0].getsockname()[1]
    finally:
        await server.shutdown()


def told(values: Values) -> dict[Channel, float | str]:
    return dict(values)
