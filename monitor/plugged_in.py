"""What is plugged into this machine and could be read: serial ports, CAN interfaces, adapters.

Nothing is opened: a port that another program reads is not disturbed.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

#: Where Linux keeps names of ports that stay the same over replugging: by serial number, by socket.
_LASTING: Final = ("dev/serial/by-id", "dev/serial/by-path")

#: The kind of a network interface that is a CAN bus (ARPHRD_CAN of the Linux headers).
_CAN_KIND: Final = "280"


@dataclass(frozen=True, slots=True)
class Port:
    """A serial port. `lasting` are names that stay the same when it is plugged in again."""

    path: str
    description: str
    lasting: tuple[str, ...] = ()


def serial_ports() -> tuple[Port, ...]:
    """The serial ports of this machine, by their names."""
    from serial.tools import list_ports

    found = sorted(list_ports.comports(), key=lambda port: port.device)
    return tuple(
        Port(port.device, _description(port.description), lasting_names(port.device))
        for port in found
    )


def _description(told: str | None) -> str:
    """What the port says of itself; pyserial writes n/a for nothing."""
    return "" if told in (None, "n/a") else " ".join(str(told).split())


def lasting_names(device: str, root: Path = Path("/")) -> tuple[str, ...]:
    """The lasting names of a port, the one with its serial number first."""
    return tuple(_links_to(device, (root / folder for folder in _LASTING), root))


def _links_to(device: str, folders: Iterable[Path], root: Path) -> Iterable[str]:
    target = os.path.realpath(root / device.lstrip("/"))
    for folder in folders:
        try:
            links = sorted(folder.iterdir())
        except OSError:
            continue
        for link in links:
            if os.path.realpath(link) == target:
                yield "/" + str(link.relative_to(root))


def can_interfaces(root: Path = Path("/")) -> tuple[str, ...]:
    """The CAN interfaces that the system knows, up or not."""
    found = []
    for kind in sorted((root / "sys/class/net").glob("*/type")):
        try:
            text = kind.read_text("ascii", errors="replace").strip()
        except OSError:
            continue
        if text == _CAN_KIND:
            found.append(kind.parent.name)
    return tuple(found)
