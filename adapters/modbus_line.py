"""One serial line with several Modbus devices on it, each asked in its turn.

RS-485 was made for that (Modbus over Serial Line V1.02, 2.1): one master, up to 247 addresses, one
request at a time. A port is opened by the first device that needs it and closed by the last; in
between the devices queue, in the order in which they came. What disturbs one disturbs all, so
silence after a request that failed is kept for the whole line.

    async with line.turn: ...        a device's request and its reply
"""

from __future__ import annotations

import asyncio
import dataclasses
import os
from collections.abc import Awaitable, Callable
from typing import Final, Protocol
from weakref import WeakKeyDictionary

from adapters.adapter import LinkError
from adapters.serial_port import PortSettings

Frames = Callable[[bool, bytes], None]

#: A line on which nobody was understood for so long is opened anew by the next who comes: an
#: adapter that hangs wakes up by that (common practice). Longer than one device's three misses.
DEAF_SECONDS: Final = 10.0

#: Modbus over Serial Line V1.02, 2.5.1.1: frames are 3.5 characters apart, above 19 200 baud a
#: fixed 1.75 ms.
_GAP_CHARACTERS: Final = 3.5
_FIXED_GAP_SECONDS: Final = 0.00175
_FIXED_ABOVE_BAUD: Final = 19_200


class Master(Protocol):
    """What a line needs to know of who speaks on it."""

    @property
    def connected(self) -> bool: ...

    def close(self) -> None: ...


def gap_seconds(port: PortSettings) -> float:
    """Silence between two frames."""
    if port.baud > _FIXED_ABOVE_BAUD:
        return _FIXED_GAP_SECONDS
    return _GAP_CHARACTERS * port.character_seconds


class Line:
    """A way to one device or several: `turn` is held from before a request until its reply.

    `frames` is told of what passes while a device has its turn. `gap` is the silence after each
    exchange; 0 where there is none to keep (TCP).
    """

    def __init__(self, where: str, gap: float = 0.0) -> None:
        self.where = where
        self.turn = asyncio.Lock()
        self.frames: Frames = _unheard
        self.master: Master | None = None
        self.users = 0
        self._gap = gap
        self._heard = self._quiet_until = _now()

    @property
    def shared(self) -> bool:
        """Whether a late reply to one request may be taken for that to another."""
        return self._gap > 0.0

    @property
    def sound(self) -> bool:
        """Open, and somebody was understood lately."""
        alive = self.master is not None and self.master.connected
        return alive and _now() - self._heard < DEAF_SECONDS

    def tell(self, sent: bool, data: bytes) -> None:
        self.frames(sent, data)

    async def quiet(self) -> None:
        """Wait until the line may be spoken on."""
        wait = self._quiet_until - _now()
        if wait > 0:
            await asyncio.sleep(wait)

    def understood(self) -> None:
        """A reply came that fits: the next request after the gap."""
        self._heard = _now()
        self._quiet_until = self._heard + self._gap

    def be_quiet(self, seconds: float) -> None:
        """No request for so long: a late reply to the last one must have gone by."""
        if self.shared:
            self._quiet_until = _now() + seconds

    def leave(self) -> None:
        """One device fewer; the last one closes the port."""
        self.users -= 1
        if self.users <= 0:
            self.close()

    def close(self) -> None:
        if self.master is not None:
            self.master.close()


@dataclasses.dataclass(slots=True)
class _Port:
    """A serial port of this program: who opens it waits for `opening`."""

    opening: asyncio.Lock = dataclasses.field(default_factory=asyncio.Lock)
    line: Line | None = None
    manner: tuple[PortSettings, bool] | None = None


#: By the loop that reads them: locks and transports belong to one.
_ports: WeakKeyDictionary[asyncio.AbstractEventLoop, dict[str, _Port]] = WeakKeyDictionary()


async def join(
    port: PortSettings, local_echo: bool, begin: Callable[[Line], Awaitable[None]]
) -> Line:
    """The line at a port, opened by `begin` where no device of this program has it yet.

    `LinkError` says why it cannot be had; also where another device has it with other settings.
    """
    path = os.path.realpath(port.path)
    manner = (dataclasses.replace(port, path=path), local_echo)
    place = _ports.setdefault(asyncio.get_running_loop(), {}).setdefault(path, _Port())
    async with place.opening:
        line = place.line
        if line is not None and line.users > 0 and line.sound:
            if place.manner != manner:
                raise LinkError(
                    f"port {port.path} is open with other line settings for another device; give "
                    "all devices of one line the same baud, parity, bits and local_echo"
                )
        else:
            if line is not None:
                line.close()  # it must be free before it can be had again
            line = Line(f"port {port.path}", gap_seconds(port))
            place.line, place.manner = None, None
            await begin(line)
            place.line, place.manner = line, manner
        line.users += 1
        return line


def _now() -> float:
    return asyncio.get_running_loop().time()


def _unheard(sent: bool, data: bytes) -> None:
    """Nobody has his turn."""
