"""`ampwright find`: which registers of an undocumented device hold what a meter shows."""

from __future__ import annotations

import argparse
import asyncio
import os
import re
import shutil
import sys
import textwrap
import threading
import time
from typing import TYPE_CHECKING, Final

from monitor.mishaps import Refusal

if TYPE_CHECKING:
    from adapters.modbus_link import ModbusLink
    from adapters.registers import Block

#: Where devices usually keep what they measure; larger maps are named by --registers.
USUAL: Final = "0-999"


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--port", metavar="PATH", help="the serial port (Modbus RTU)")
    parser.add_argument("--baud", type=int, default=19200, help="of the serial port (19200)")
    parser.add_argument("--parity", default="none", help="none, even or odd (none)")
    parser.add_argument("--stop-bits", type=int, default=1, help="1 or 2 (1)")
    parser.add_argument(
        "--host", metavar="NAME[:PORT]", help="a device on the network (Modbus TCP)"
    )
    parser.add_argument("--device-id", type=int, default=1, help="the device's address (1)")
    parser.add_argument("--timeout", type=float, default=1.0, metavar="S", help="of one read (1)")
    parser.add_argument(
        "--registers",
        action="append",
        metavar="FROM-TO",
        help=f"addresses to look at, counted from 0 ({USUAL}); may be given again",
    )
    parser.add_argument("--table", default="both", help="holding, input or both (both)")


def run(arguments: argparse.Namespace) -> int:
    from monitor.service.in_use import refuse_line_in_use

    blocks = _blocks(arguments)
    _check(arguments)
    if arguments.port is not None:
        refuse_line_in_use(f"--port {arguments.port}", port=arguments.port)
    else:
        refuse_line_in_use(f"--host {arguments.host}", host=arguments.host)
    return asyncio.run(_converse(arguments, blocks))


async def _converse(arguments: argparse.Namespace, blocks: list[Block]) -> int:
    from adapters.finder.sweep import Sweeper
    from monitor.finding import Finding

    link = _Reopened(arguments)
    lines = _Lines()
    try:
        await link.open()
        sweeper = Sweeper(link, blocks, time.monotonic, _say)
        finding = Finding(
            sweeper, _say, time.monotonic, device_id=arguments.device_id, reopen=link.open
        )
        await finding.converse(lines.ask)
    finally:
        link.close()
    return 0


class _Reopened:
    """A link that can be opened again; the sweeper sees only that it reads."""

    def __init__(self, arguments: argparse.Namespace) -> None:
        self._arguments = arguments
        self._link: ModbusLink | None = None

    async def open(self) -> None:
        self.close()
        self._link = await _connect(self._arguments)

    async def read(self, block: Block) -> list[int]:
        from adapters.adapter import LinkLost

        if self._link is None:
            raise LinkLost("the link is gone")
        return await self._link.read(block)

    def close(self) -> None:
        link, self._link = self._link, None
        if link is not None:
            link.close()


async def _connect(arguments: argparse.Namespace) -> ModbusLink:
    from adapters.adapter import DeviceSettings, unheard
    from adapters.modbus_link import connect_rtu, connect_tcp
    from adapters.options import Options
    from adapters.serial_port import read_port_settings

    if arguments.host is not None:
        host, _, port = arguments.host.partition(":")
        return await connect_tcp(
            host, int(port or 502), arguments.device_id, arguments.timeout, unheard
        )
    options = Options(
        DeviceSettings(
            "find",
            {
                "port": arguments.port,
                "baud": arguments.baud,
                "parity": arguments.parity,
                "stop_bits": arguments.stop_bits,
            },
        )
    )
    settings = read_port_settings(options, arguments.baud)
    return await connect_rtu(settings, arguments.device_id, arguments.timeout, False, unheard)


class _Lines:
    """Lines that a person types, read in a thread so that sweeping goes on meanwhile.

    Read from the file descriptor: a thread that waits inside `sys.stdin` would hold its lock, and
    the interpreter could not end.
    """

    def __init__(self) -> None:
        self._kept = b""
        self._ended = False

    async def ask(self, prompt: str) -> str | None:
        """The next line, None at the end of input."""
        print(prompt, end="", flush=True)
        while b"\n" not in self._kept and not self._ended:
            data = await self._more()
            self._kept += data
            self._ended = not data
        line, newline, self._kept = self._kept.partition(b"\n")
        if not newline and not line:
            return None
        return line.decode("utf-8", "replace").rstrip("\r")

    async def _more(self) -> bytes:
        loop = asyncio.get_running_loop()
        answer: asyncio.Future[bytes] = loop.create_future()

        def done(data: bytes) -> None:
            if not answer.done():
                answer.set_result(data)

        def read() -> None:
            try:
                data = os.read(sys.stdin.fileno(), 4096)
            except OSError:  # the terminal is gone
                data = b""
            if not loop.is_closed():
                loop.call_soon_threadsafe(done, data)

        threading.Thread(target=read, name="typed", daemon=True).start()
        return await answer


def _say(line: str) -> None:
    columns = max(30, min(shutil.get_terminal_size((80, 24)).columns, 100))
    print(textwrap.fill(line, columns, subsequent_indent="   "), flush=True)


def _check(arguments: argparse.Namespace) -> None:
    if (arguments.port is None) == (arguments.host is None):
        raise Refusal(
            "find: expected --port PATH or --host NAME, one of them; see: ampwright find --help"
        )
    if not 0 <= arguments.device_id <= 255:
        raise Refusal(f"--device-id: expected 0 to 255, found {arguments.device_id}")
    if not 0.05 <= arguments.timeout <= 30.0:
        raise Refusal(f"--timeout: expected 0.05 to 30 s, found {arguments.timeout:g}")
    port = (arguments.host or "").partition(":")[2]
    if port and not (port.isdecimal() and 1 <= int(port) <= 65535):
        raise Refusal(f"--host: expected a port from 1 to 65535, found {port!r}")


def _blocks(arguments: argparse.Namespace) -> list[Block]:
    from adapters.registers import LAST_ADDRESS, READ_FUNCTION, Block

    tables = list(READ_FUNCTION) if arguments.table == "both" else [arguments.table]
    if not set(tables) <= set(READ_FUNCTION):
        raise Refusal(f"--table: expected holding, input or both, found {arguments.table!r}")
    blocks = []
    for text in arguments.registers or [USUAL]:
        match = re.fullmatch(r"\s*(\d+)(?:\s*-\s*(\d+))?\s*", text)
        first = int(match.group(1)) if match else -1
        last = int(match.group(2) or first) if match else -1
        if not 0 <= first <= last <= LAST_ADDRESS:
            raise Refusal(
                f"--registers: expected two addresses from 0 to {LAST_ADDRESS} such as "
                f"{USUAL}, found {text!r}"
            )
        blocks += [Block(table, first, last - first + 1) for table in tables]
    return blocks
