"""The daemon thread that reads one serial port and hands what comes to the event loop."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable
from typing import Final

import serial

from adapters.serial_port import close_quietly

#: Bytes taken at once when many wait; at 115 200 baud a tenth of a second's worth.
_PIECE: Final = 1024

_STOP_SECONDS: Final = 1.0


class PortReader:
    """Owns an open port. `arrived(data, seconds)` and, once, `gone()` are called in the loop."""

    def __init__(
        self,
        port: serial.Serial,
        arrived: Callable[[bytes, float], None],
        gone: Callable[[], None],
    ) -> None:
        self.port = port
        self._arrived = arrived
        self._gone = gone
        self._loop = asyncio.get_running_loop()
        self._stopping = threading.Event()
        self._ended = asyncio.Event()
        self._thread = threading.Thread(target=self._run, name=f"read {port.port}", daemon=True)
        self._thread.start()

    async def stop(self) -> None:
        """End the thread and close the port."""
        self._stopping.set()
        with contextlib.suppress(OSError, AttributeError):
            self.port.cancel_read()
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(_STOP_SECONDS):
                await self._ended.wait()
                self._thread.join(_STOP_SECONDS)  # it told its end as its last act

    def _run(self) -> None:
        try:
            while not self._stopping.is_set():
                data = self.port.read(min(max(1, self.port.in_waiting), _PIECE))
                if data:
                    self._tell(self._pass_on, data, self._loop.time())
        # An unplugged port raises OSError, or TypeError when closed under pyserial's feet.
        except (OSError, TypeError, ValueError):
            self._tell(self._report_gone)
        finally:
            close_quietly(self.port)
            self._tell(self._ended.set)

    def _pass_on(self, data: bytes, seconds: float) -> None:
        if not self._stopping.is_set():
            self._arrived(data, seconds)

    def _report_gone(self) -> None:
        if not self._stopping.is_set():
            self._gone()

    def _tell(self, call: Callable[..., None], *arguments: object) -> None:
        """Call in the event loop; when it has ended there is nobody left to tell."""
        with contextlib.suppress(RuntimeError):
            self._loop.call_soon_threadsafe(call, *arguments)
