"""Listening to a CAN bus through python-can, without ever sending on it.

python-can is an optional package: nothing here needs it before a bus is opened. One daemon thread
per bus waits for frames; those of other DGNs are filtered out before they come here, by the kernel
where the interface is one of Linux's.
"""

from __future__ import annotations

import asyncio
import contextlib
import importlib.util
import logging
import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from adapters.adapter import LinkError, SettingsError
from adapters.extras import install
from adapters.serial_port import OPEN_SECONDS, in_daemon_thread

if TYPE_CHECKING:
    import can

#: RV-C, physical layer: every bus runs at this rate (secondary copy).
BITS_A_SECOND: Final = 250_000

#: Any priority, the DGN, any source address.
_DGN_MASK: Final = 0x1FFFF00

#: The thread wakes this often to see whether it should end.
_WAKE_SECONDS: Final = 0.2
_STOP_SECONDS: Final = 1.0

#: What python-can is told for each kind of interface. A Linux interface has its rate, and whether
#: it may acknowledge frames, from the system; a serial one is told here not to. Without `timeout`
#: a serial one is asked a thousand times a second (5 % of a core while idle, measured).
INTERFACES: Final[dict[str, dict[str, Any]]] = {
    "socketcan": {},
    "slcan": {"bitrate": BITS_A_SECOND, "listen_only": True, "timeout": _WAKE_SECONDS},
    "virtual": {},
}


@dataclass(frozen=True, slots=True)
class BusSettings:
    """Which bus: the kind of interface and its name there ("can0", a serial port)."""

    interface: str
    channel: str

    def __str__(self) -> str:
        return f"CAN bus {self.channel}"


def need_python_can(where: str) -> None:
    """`SettingsError` where python-can is not installed."""
    if importlib.util.find_spec("can") is None:
        raise SettingsError(
            f"{where}: expected the package python-can, which reads a CAN bus; found none; "
            f"install it with: {install('can')}"
        )


async def open_bus(settings: BusSettings, dgns: Iterable[int]) -> can.BusABC:
    """An open bus that lets through these DGNs only; `LinkError` tells why it cannot be had."""
    filters: list[can.typechecking.CanFilter] = [
        {"can_id": dgn << 8, "can_mask": _DGN_MASK, "extended": True} for dgn in dgns
    ]

    def opened() -> can.BusABC:
        import can

        _silence()
        try:
            return can.Bus(
                channel=settings.channel,
                interface=settings.interface,
                can_filters=filters,
                receive_own_messages=False,
                ignore_config=True,
                **INTERFACES[settings.interface],
            )
        except (can.CanError, OSError, ValueError, ImportError, AttributeError) as fault:
            raise LinkError(
                f"{settings} cannot be opened: {_words(fault)}; expected an interface that is up "
                f"at {BITS_A_SECOND // 1000} kbit/s; ampwright devices lists those there are"
            ) from None

    try:
        async with asyncio.timeout(OPEN_SECONDS):
            return await in_daemon_thread(opened, _close)
    except TimeoutError:
        raise LinkError(f"{settings} does not open within {OPEN_SECONDS:g} s") from None


def _silence() -> None:
    """What python-can logs must never reach the screen."""
    logger = logging.getLogger("can")
    logger.propagate = False
    if not logger.handlers:
        logger.addHandler(logging.NullHandler())


def _words(fault: BaseException) -> str:
    return " ".join(str(fault).split())[:200] or type(fault).__name__


def _close(bus: can.BusABC) -> None:
    with contextlib.suppress(Exception):
        bus.shutdown()


class BusReader:
    """Owns an open bus. `arrived(id, data, seconds)` for each data frame with a 29-bit id and,
    once, `gone(reason)` are called in the event loop."""

    def __init__(
        self,
        bus: can.BusABC,
        arrived: Callable[[int, bytes, float], None],
        gone: Callable[[str], None],
    ) -> None:
        self._bus = bus
        self._arrived = arrived
        self._gone = gone
        self._loop = asyncio.get_running_loop()
        self._stopping = threading.Event()
        self._ended = asyncio.Event()
        self._thread = threading.Thread(target=self._run, name="read CAN bus", daemon=True)
        self._thread.start()

    async def stop(self) -> None:
        """End the thread and close the bus."""
        self._stopping.set()
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(_STOP_SECONDS):
                await self._ended.wait()

    def _run(self) -> None:
        try:
            while not self._stopping.is_set():
                heard = self._bus.recv(_WAKE_SECONDS)
                if heard is not None and is_data(heard):
                    self._tell(
                        self._pass_on, heard.arbitration_id, bytes(heard.data), self._loop.time()
                    )
        # Whatever a driver throws, the bus is gone: python-can has a class of its own for each.
        except (ValueError, IndexError) as fault:
            self._tell(self._report_gone, f"what comes is no CAN frame ({_words(fault)})")
        except Exception as fault:
            self._tell(self._report_gone, _words(fault))
        finally:
            _close(self._bus)
            self._tell(self._ended.set)

    def _pass_on(self, can_id: int, data: bytes, seconds: float) -> None:
        if not self._stopping.is_set():
            self._arrived(can_id, data, seconds)

    def _report_gone(self, reason: str) -> None:
        if not self._stopping.is_set():
            self._gone(reason)

    def _tell(self, call: Callable[..., None], *arguments: object) -> None:
        """Call in the event loop; when it has ended there is nobody left to tell."""
        with contextlib.suppress(RuntimeError):
            self._loop.call_soon_threadsafe(call, *arguments)


def is_data(heard: can.Message) -> bool:
    """RV-C has data frames with 29-bit ids only."""
    other = heard.is_error_frame or heard.is_remote_frame or heard.is_fd
    return heard.is_extended_id and not other
