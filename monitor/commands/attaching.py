"""When a command attaches to a running service instead of reading the devices itself."""

from __future__ import annotations

import argparse
from pathlib import Path

from monitor.commands.options import config_path
from monitor.mishaps import Refusal


def add_socket(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--socket", type=Path, metavar="PATH", help="attach to the service that listens there"
    )


def service_for(arguments: argparse.Namespace) -> Path | None:
    """The socket of the service to attach to; None where the devices are to be read here.

    That named with `--socket`; else that of whoever has the configuration's devices; else, where
    there is no configuration at all, the service that runs on this machine. `Refusal` where the
    devices are read by somebody who takes no guests.
    """
    from monitor.service.owner import owner_of, taken
    from monitor.service.places import SOCKET_NAME, folders

    if arguments.socket is not None:
        return Path(arguments.socket)
    try:
        config = config_path(arguments.config)
    except Refusal:
        for folder in folders():
            if (folder / SOCKET_NAME).is_socket():
                return folder / SOCKET_NAME
        raise
    owner = owner_of(config)
    if owner is None:
        return None
    if not owner.socket:
        raise Refusal(taken(config, owner))
    return Path(owner.socket)


def refuse_own(arguments: argparse.Namespace, path: Path, *names: str) -> None:
    """Options that only make sense where the devices are read here."""
    for name in names:
        if getattr(arguments, name, None):
            raise Refusal(
                f"--{name}: the devices are read by the service at {path}, which keeps what is "
                f"learned and recorded; leave --{name} out, or end the service first"
            )
