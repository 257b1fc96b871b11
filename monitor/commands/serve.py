"""`ampwright serve`: the devices without a screen, for screens that come and go."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from monitor.commands.options import add_config, add_keeping, config_of, record_for


def arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument(
        "--socket",
        type=Path,
        metavar="PATH",
        help="where screens attach, if not at the usual place",
    )
    parser.add_argument("--raw", action="store_true", help="record the bytes on the wire too")
    add_keeping(parser)


def run(arguments: argparse.Namespace) -> int:
    from monitor.commands.screens import ended_well, leaving
    from monitor.entries import entries_folder
    from monitor.live import Live
    from monitor.notify import notifying
    from monitor.service.life import run_service
    from monitor.service.log import Log, managed
    from monitor.service.owner import owning
    from monitor.service.places import SOCKET_NAME, own_folder

    config = config_of(arguments.config)
    path = (arguments.socket or own_folder() / SOCKET_NAME).absolute()
    record = record_for(config, None)
    log = Log(managed(os.environ))
    with owning(config.name, "serve", str(path)):
        live = Live(
            config,
            history_path=record,
            state_path=arguments.state or _managed_state(record),
            raw_frames=arguments.raw or config.history.raw,
            entries=entries_folder(),
        )
        with leaving(live, config), notifying(live, config.notify):
            run_service(live, path, str(Path(config.name).absolute()), log)
        ended_well(live)
    return 0


def _managed_state(record: Path | None) -> Path | None:
    """Without a record what is learned is kept in the directory that a service manager gives."""
    given = os.environ.get("STATE_DIRECTORY", "").split(":")[0]
    return Path(given) / "bank.state" if given and record is None else None
