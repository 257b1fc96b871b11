"""`ampwright now`: how the bank is right now, in a few lines."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from monitor.commands.options import add_config, add_keeping, config_of, seconds

if TYPE_CHECKING:
    from monitor.live import Live


def arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument(
        "--wait", type=seconds, default=10.0, metavar="TIME", help="the longest wait for devices"
    )
    add_keeping(parser)


def run(arguments: argparse.Namespace) -> int:
    from monitor.commands.screens import ended_well, run_until_told
    from monitor.live import Live
    from monitor.plain import now_text, severity

    live = Live(config_of(arguments.config), state_path=arguments.state)
    run_until_told(lambda: everybody_answered(live), live, arguments.wait)
    ended_well(live)
    snapshot = live.snapshot()
    print(now_text(snapshot), end="")
    return severity(snapshot)


async def everybody_answered(live: Live) -> None:
    """Until each device has given a reading or a reason for none."""
    async for _ in live.snapshots():
        if not live.awaited:
            return
