"""The unit file of the service manager, filled in for one configuration.

The first line marks a file as made here and carries a digest of the rest: one that somebody else
made, or that was changed by hand, is never written over or removed. Changes belong into a drop-in
(`systemctl edit ampwright`).
"""

from __future__ import annotations

import grp
import hashlib
import sys
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Final

from monitor.config import Config

NAME: Final = "ampwright.service"
#: The directory of state that the unit for the whole system gives the service.
STATE_FOLDER: Final = Path("/var/lib/ampwright")

_MARK: Final = "# Made by ampwright service install; change it by a drop-in. "
#: Groups that own serial ports, by distribution (from memory: Debian and Fedora; Arch).
_SERIAL_GROUPS: Final = ("dialout", "uucp")
_NETWORKS: Final = """\
# Only the networks of the coach itself; for a broker beyond them, in a drop-in: IPAddressAllow=
IPAddressDeny=any
IPAddressAllow=localhost link-local 10.0.0.0/8 172.16.0.0/12 192.168.0.0/16 fd00::/8"""
_ANY_NETWORK: Final = "# [notify] has a command that may go anywhere: no network is forbidden."


@dataclass(frozen=True, slots=True)
class Manager:
    """Whose service manager: the system's, or a user's own. `control` begins its commands."""

    folder: Path
    control: tuple[str, ...]
    template: str
    system: bool

    @property
    def path(self) -> Path:
        return self.folder / NAME


def system_manager(root: Path = Path("/")) -> Manager:
    return Manager(root / "etc/systemd/system", ("systemctl",), "ampwright.service", True)


def user_manager(config_home: Path) -> Manager:
    folder = config_home / "systemd" / "user"
    return Manager(folder, ("systemctl", "--user"), "ampwright.user.service", False)


def unit_text(manager: Manager, config: Config, program: tuple[str, ...]) -> str:
    """The whole file, marked."""
    template = files("monitor.service").joinpath(manager.template).read_text(encoding="utf-8")
    can = any(device.adapter == "rvc" for device in config.devices)
    filled = {
        "@PROGRAM@": " ".join(map(quoted, program)),
        "@CONFIG@": quoted(str(Path(config.name).absolute())),
        "@GROUP@": serial_group(),
        "@FAMILIES@": "AF_INET AF_INET6" + (" AF_CAN AF_NETLINK" if can else ""),
        "@NETWORKS@": _ANY_NETWORK if config.notify.command else _NETWORKS,
    }
    for place, words in filled.items():
        template = template.replace(place, words)
    return f"{_MARK}{_digest(template)}\n{template}"


def ours(text: str) -> bool:
    """Whether a unit file was made here and is as it was made."""
    first, _, rest = text.partition("\n")
    return first == f"{_MARK}{_digest(rest)}"


def program() -> tuple[str, ...]:
    """How this very program is started."""
    beside = Path(sys.executable).with_name("ampwright")
    return (str(beside),) if beside.is_file() else (sys.executable, "-m", "monitor.cli")


def quoted(word: str) -> str:
    """A word of a command as unit files have it (systemd.service(5))."""
    escaped = word.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%").replace("$", "$$")
    plain = all(sign.isalnum() or sign in "/._-+=:,@" for sign in word)
    return escaped if plain else f'"{escaped}"'


def serial_group() -> str:
    """The group that may open serial ports here."""
    for name in _SERIAL_GROUPS:
        try:
            return grp.getgrnam(name).gr_name
        except KeyError:
            continue
    return _SERIAL_GROUPS[0]


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]
