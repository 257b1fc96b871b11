"""`ampwright now`: how the bank is right now, in a few lines."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.commands.attaching import add_socket, refuse_own, service_for
from monitor.commands.options import add_config, add_keeping, config_of, seconds

if TYPE_CHECKING:
    from monitor.config import Config
    from monitor.engine.snapshot import Snapshot
    from monitor.live import Live


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.epilog = (
        "Exit status 0: normal; 10, 11, 12: an alarm of low, medium or high priority. An alarm "
        "that is over and unseen, a silent device and a bank that is not read count as low."
    )
    add_config(parser)
    add_socket(parser)
    parser.add_argument(
        "--wait", type=seconds, default=10.0, metavar="TIME", help="the longest wait for devices"
    )
    add_keeping(parser)


def run(arguments: argparse.Namespace) -> int:
    from monitor.plain import now_text, severity

    path = service_for(arguments)
    snapshot = _asked(arguments, path) if path is not None else _measured(arguments)
    print(now_text(snapshot), end="")
    return severity(snapshot)


def _asked(arguments: argparse.Namespace, path: Path) -> Snapshot:
    """What the running service shows."""
    from monitor.service.caller import look

    refuse_own(arguments, path, "state")
    return look(path)[1]


def _measured(arguments: argparse.Namespace) -> Snapshot:
    """What the devices say, asked here."""
    from monitor.commands.screens import ended_well, run_until_told
    from monitor.live import Live

    config = config_of(arguments.config)
    live = Live(config, state_path=arguments.state, look_from=look_from(config, arguments.state))
    run_until_told(lambda: everybody_answered(live), live, arguments.wait)
    ended_well(live)
    return live.snapshot()


def look_from(config: Config, state: Path | None) -> Path | None:
    """The record to begin from without touching it, unless a state of its own is given."""
    return config.history.directory if state is None else None


async def everybody_answered(live: Live) -> None:
    """Until each device has given a reading or a reason for none."""
    async for _ in live.snapshots():
        if not live.awaited:
            return
