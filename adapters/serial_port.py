"""Opening a serial port without stopping the world, and saying in words why it cannot be opened.

pyserial opens and locks in blocking calls that may take seconds on a slow driver, so this happens
in a daemon thread. The port is opened exclusively: a second reader would steal bytes.
"""

from __future__ import annotations

import asyncio
import contextlib
import errno
import os
import stat
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, TypeVar

import serial
from serial.tools import list_ports

from adapters.adapter import LinkError
from adapters.options import Options

Result = TypeVar("Result")

#: Opening takes milliseconds, on a slow driver a second or two; beyond this it never will.
OPEN_SECONDS: Final = 5.0

_PARITIES: Final = {"none": "N", "even": "E", "odd": "O"}

#: The thread of a reader wakes this often to see whether it should end.
READ_SECONDS: Final = 0.2


@dataclass(frozen=True, slots=True)
class PortSettings:
    """How to open a serial port, in the trade's words: parity "none", "even" or "odd"."""

    path: str
    baud: int
    parity: str
    data_bits: int
    stop_bits: int

    @property
    def character_seconds(self) -> float:
        """Time that one character takes on the line: start, data, parity and stop bits."""
        parity = self.parity != "none"
        return (1 + self.data_bits + parity + self.stop_bits) / self.baud


def read_port_settings(options: Options, baud: int) -> PortSettings:
    """Take port, baud, parity, data_bits and stop_bits; `baud` is what is usual for the kind."""
    path = options.text("port", 'the path of a serial port, such as "/dev/serial/by-id/..."')
    return PortSettings(
        path=path,
        baud=options.whole("baud", baud, 50, 4_000_000),
        parity=options.choice("parity", _PARITIES, "none"),
        data_bits=options.whole("data_bits", 8, 7, 8),
        stop_bits=options.whole("stop_bits", 1, 1, 2),
    )


async def open_port(settings: PortSettings) -> serial.Serial:
    """An open, locked, emptied port; `LinkError` tells why not, and what to do."""

    def opened() -> serial.Serial:
        try:
            port = serial.Serial(
                settings.path,
                settings.baud,
                settings.data_bits,
                _PARITIES[settings.parity],
                settings.stop_bits,
                timeout=READ_SECONDS,
                exclusive=True,
            )
            port.reset_input_buffer()
        except (OSError, ValueError) as fault:  # SerialException is an OSError
            raise LinkError(why_not(settings, fault)) from None
        return port

    try:
        async with asyncio.timeout(OPEN_SECONDS):
            return await in_daemon_thread(opened, discard=close_quietly)
    except TimeoutError:
        raise LinkError(
            f"port {settings.path} does not open within {OPEN_SECONDS:g} s; unplug the adapter and "
            "plug it in again"
        ) from None


def close_quietly(port: serial.Serial) -> None:
    """Close a port whatever state it is in."""
    with contextlib.suppress(OSError):
        port.close()


async def in_daemon_thread(call: Callable[[], Result], discard: Callable[[Result], None]) -> Result:
    """Await a blocking call in a thread that cannot keep the program from ending.

    When the waiting is cancelled before the call returns, its result goes to `discard`.
    """
    loop = asyncio.get_running_loop()
    future: asyncio.Future[Result] = loop.create_future()

    def settle(result: Result | None, fault: Exception | None) -> None:
        if future.done():
            if fault is None:
                discard(result)  # type: ignore[arg-type]  # no fault, so there is a result
        elif fault is not None:
            future.set_exception(fault)
        else:
            future.set_result(result)  # type: ignore[arg-type]

    def run() -> None:
        result, fault = None, None
        try:
            result = call()
        except Exception as raised:
            fault = raised
        try:
            loop.call_soon_threadsafe(settle, result, fault)
        except RuntimeError:  # the loop has ended meanwhile
            if fault is None:
                discard(result)  # type: ignore[arg-type]

    threading.Thread(target=run, name="serial-open", daemon=True).start()
    return await future


def why_not(settings: PortSettings, fault: BaseException) -> str:
    """One line for a port that would not open: what is wrong and what to do.

    pyserial gives the system's error number, or hides it in a cause; a port that is no terminal
    line shows itself by "inappropriate ioctl".
    """
    path = settings.path
    code = _error_number(fault)
    if code in (errno.ENOENT, errno.ENODEV, errno.ENXIO, errno.ENOTDIR):
        return f"no such port {path}; plug the adapter in or correct the port ({_known_ports()})"
    if code in (errno.EACCES, errno.EPERM):
        return f"permission denied on port {path}; {_how_to_be_allowed(path)}"
    if code in (errno.EBUSY, errno.EAGAIN):
        return f"port {path} is in use by another program; close that program first"
    if code in (errno.ENOTTY, errno.EISDIR) or _is_no_line(path):
        return f"{path} is not a serial port; correct the port ({_known_ports()})"
    if isinstance(fault, ValueError) or code == errno.EINVAL:
        return (
            f"port {path} cannot do {settings.baud} baud, {settings.data_bits} data bits, parity "
            f"{settings.parity}, {settings.stop_bits} stop bits; correct these settings"
        )
    words = os.strerror(code) if code else " ".join(str(fault).split())[:120]
    return f"port {path} does not open: {words}; unplug the adapter and plug it in again"


def _error_number(fault: BaseException) -> int | None:
    while True:
        number = getattr(fault, "errno", None) or next(iter(fault.args), None)
        if isinstance(number, int):
            return number
        if fault.__context__ is None:
            return None
        fault = fault.__context__


def _is_no_line(path: str) -> bool:
    try:
        return not stat.S_ISCHR(os.stat(path).st_mode)
    except OSError:
        return False


def _how_to_be_allowed(path: str) -> str:
    """Ports belong to a group; joining it is the usual way to be allowed."""
    try:
        import grp  # only where the system has groups

        group = grp.getgrgid(os.stat(path).st_gid).gr_name
    except (ImportError, OSError, KeyError):
        group = "dialout"
    return f"join its group (sudo usermod -aG {group} $USER), then log out and in again"


def _known_ports() -> str:
    found = sorted(port.device for port in list_ports.comports(include_links=False))
    return f"ports here: {', '.join(found[:6])}" if found else "no serial port is plugged in"
