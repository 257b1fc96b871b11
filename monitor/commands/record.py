"""`ampwright record`: the devices into a capture, without a screen."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.commands.options import add_config, add_keeping, config_of, seconds

if TYPE_CHECKING:
    from monitor.live import Live


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("out", type=Path, metavar="NEW", help="the capture to write")
    add_config(parser)
    parser.add_argument("--for", dest="limit", type=seconds, metavar="TIME", help="90, 10m or 8h")
    parser.add_argument("--raw", action="store_true", help="record the bytes on the wire too")
    add_keeping(parser)


def run(arguments: argparse.Namespace) -> int:
    from monitor.commands.screens import ended_well, leaving, run_until_told
    from monitor.entries import entries_folder
    from monitor.live import Live
    from monitor.notify import notifying

    config = config_of(arguments.config)
    live = Live(
        config,
        capture_path=arguments.out,
        state_path=arguments.state,
        raw_frames=arguments.raw,
        entries=entries_folder(),
    )
    print(f"recording into {arguments.out}; end with Ctrl-C", file=sys.stderr)
    with leaving(live, config):
        with notifying(live, config.notify):
            run_until_told(lambda: _tell_links(live), live, arguments.limit)
        closing = live.closing
        if closing is not None:
            print(f"{arguments.out}: {closing.written} rows")
        ended_well(live)
    return 0


async def _tell_links(live: Live) -> None:
    """A line on stderr for each link that goes down or comes back, the recorder's too."""
    from monitor.engine.snapshot import EventKind

    told = live.earlier
    async for _ in live.snapshots():
        for event in live.events(told):
            told = event.number
            if event.kind is EventKind.LINK:
                print(f"{event.target}: {event.words}", file=sys.stderr, flush=True)
