"""`ampwright watch`: the bank live."""

from __future__ import annotations

import argparse
from pathlib import Path

from monitor.commands.options import add_config, add_keeping, add_looks, config_of, record_for


def arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument(
        "--capture",
        type=Path,
        metavar="NEW",
        help="record everything into a new capture, instead of the record of the configuration",
    )
    parser.add_argument("--raw", action="store_true", help="record the bytes on the wire too")
    add_keeping(parser)
    add_looks(parser)


def run(arguments: argparse.Namespace) -> int:
    from monitor.commands.screens import leaving, watch
    from monitor.entries import entries_folder
    from monitor.live import Live
    from monitor.notify import notifying

    config = config_of(arguments.config)
    live = Live(
        config,
        capture_path=arguments.capture,
        history_path=record_for(config, arguments.capture),
        state_path=arguments.state,
        raw_frames=arguments.raw or config.history.raw,
        entries=entries_folder(),
    )
    with leaving(live, config), notifying(live, config.notify):
        return watch(live, arguments, bell=config.notify.bell)
