"""`ampwright record`: the devices into a capture or the record, without a screen."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.commands.options import add_config, add_keeping, config_of, record_for, seconds
from monitor.mishaps import Refusal

if TYPE_CHECKING:
    from monitor.live import Live


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "out",
        type=Path,
        nargs="?",
        metavar="NEW",
        help="the capture to write; left out: into the record of the configuration ([history])",
    )
    add_config(parser)
    parser.add_argument("--for", dest="limit", type=seconds, metavar="TIME", help="90, 10m or 8h")
    parser.add_argument("--raw", action="store_true", help="record the bytes on the wire too")
    add_keeping(parser)


def run(arguments: argparse.Namespace) -> int:
    from monitor.commands.screens import ended_well, leaving, run_until_told
    from monitor.entries import entries_folder
    from monitor.live import Live
    from monitor.notify import notifying
    from monitor.service.owner import owning

    config = config_of(arguments.config)
    record = record_for(config, arguments.out)
    if arguments.out is None and record is None:
        raise Refusal(
            f"{config.name}: expected a capture to write or a table [history], found neither; "
            "name one: ampwright record NEW"
        )
    into = arguments.out or record
    with owning(config.name, "record"):
        live = Live(
            config,
            capture_path=arguments.out,
            history_path=record,
            state_path=arguments.state,
            raw_frames=arguments.raw or config.history.raw,
            entries=entries_folder(),
        )
        print(f"recording into {into}; end with Ctrl-C", file=sys.stderr)
        with leaving(live, config):
            with notifying(live, config.notify):
                run_until_told(lambda: _tell_links(live), live, arguments.limit)
            closing = live.closing
            if closing is not None:
                print(f"{into}: {closing.written} rows")
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
