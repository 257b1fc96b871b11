"""`ampwright service`: let the service manager start `serve` and keep it alive."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from monitor.commands.options import add_config, config_of
from monitor.mishaps import Refusal

if TYPE_CHECKING:
    from monitor.service.installing import Step
    from monitor.service.unit import Manager

_WHAT: Final = ("install", "status", "uninstall")

#: As init systems have it (Linux Standard Base): not running.
NOT_RUNNING: Final = 3


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("what", choices=_WHAT, help="each says what it does and asks first")
    parser.add_argument("--yes", action="store_true", help="do it without asking")
    whose = parser.add_mutually_exclusive_group()
    whose.add_argument("--system", action="store_true", help="for the machine (as root: usual)")
    whose.add_argument("--user", action="store_true", help="for this user (else: usual)")
    add_config(parser)


def run(arguments: argparse.Namespace) -> int:
    manager = _manager(arguments)
    deeds: dict[str, Callable[[Manager, argparse.Namespace], int]] = {
        "install": _install,
        "status": _status,
        "uninstall": _uninstall,
    }
    return deeds[arguments.what](manager, arguments)


def _manager(arguments: argparse.Namespace) -> Manager:
    from monitor.service.installing import is_root
    from monitor.service.unit import system_manager, user_manager

    if arguments.user or not (arguments.system or is_root()):
        home = Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config")
        return user_manager(home)
    if arguments.what != "status" and not is_root():
        raise Refusal("--system: only root may do that; try with sudo, or leave --system out")
    return system_manager()


def _install(manager: Manager, arguments: argparse.Namespace) -> int:
    from monitor.service.installing import install_steps, run_command

    config = config_of(arguments.config)
    if not _agreed(install_steps(manager, config, run_command), arguments.yes):
        return 1
    print("It runs. Look at it with: ampwright watch; its log: journalctl -u ampwright -f")
    if not manager.system:
        print("It ends when you log out, unless you allow it to stay: loginctl enable-linger")
    return 0


def _uninstall(manager: Manager, arguments: argparse.Namespace) -> int:
    from monitor.service.installing import run_command, uninstall_steps

    if not _agreed(uninstall_steps(manager, run_command), arguments.yes):
        return 1
    print("What was recorded and learned is still there.")
    return 0


def _status(manager: Manager, arguments: argparse.Namespace) -> int:
    """What is installed, and who answers at the socket."""
    del arguments
    from monitor.service.caller import call
    from monitor.service.installing import run_command, state_of
    from monitor.service.places import SOCKET_NAME, folders

    for line in state_of(manager, run_command):
        print(line)
    for folder in folders():
        path = folder / SOCKET_NAME
        if path.is_socket():
            try:
                said = call(path).hello
            except Refusal as problem:
                print(problem)
                continue
            print(f"{path}: {said.software}, process {said.pid}, serves {said.config}")
            return 0
    print("no service answers here")
    return NOT_RUNNING


def _agreed(steps: Sequence[Step], yes: bool) -> bool:
    """Show the steps, ask, and do them."""
    print("This will:")
    for number, step in enumerate(steps, start=1):
        print(f"  {number}. {step.words}")
    if not yes and not _asked():
        print("Nothing was done.")
        return False
    for step in steps:
        step.do()
        print(f"done: {step.words}")
    return True


def _asked() -> bool:
    try:
        return input("Go on? [y/N] ").strip().lower() in ("y", "yes")
    except EOFError:
        return False
