"""`ampwright watch`: the bank live, from a running service or from the devices themselves."""

from __future__ import annotations

import argparse
from pathlib import Path

from monitor.commands.attaching import add_socket, refuse_own, service_for
from monitor.commands.options import add_config, add_keeping, add_looks, config_of, record_for


def arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    add_socket(parser)
    parser.add_argument(
        "--capture",
        type=Path,
        metavar="NEW",
        help="record everything into a new capture, instead of the record of the configuration",
    )
    parser.add_argument("--raw", action="store_true", help="record the bytes on the wire too")
    parser.add_argument(
        "--look-only", action="store_true", help="attached to a service: give no commands"
    )
    add_keeping(parser)
    add_looks(parser)


def run(arguments: argparse.Namespace) -> int:
    path = service_for(arguments)
    if path is not None:
        refuse_own(arguments, path, "capture", "raw", "state")
        return _attach(path, arguments)
    return _acquire(arguments)


def _attach(path: Path, arguments: argparse.Namespace) -> int:
    from monitor.commands.at_once import loading
    from monitor.commands.screens import watch_attached

    with loading():
        from monitor.service.caller import look

        greeted, snapshot = look(path)
    return watch_attached(greeted, snapshot, arguments)


def _acquire(arguments: argparse.Namespace) -> int:
    from monitor.commands.at_once import figures, loading, on_terminal, waiting_for
    from monitor.commands.screens import leaving, screen_wanted, watch
    from monitor.service.owner import owning

    with loading():
        config = config_of(arguments.config)
    with owning(config.name, "watch"), on_terminal(screen_wanted(arguments)) as lines:
        lines.say(waiting_for(config))
        with loading():
            from monitor.entries import entries_folder
            from monitor.live import Live
            from monitor.notify import notifying

        live = Live(
            config,
            capture_path=arguments.capture,
            history_path=record_for(config, arguments.capture),
            state_path=arguments.state,
            raw_frames=arguments.raw or config.history.raw,
            entries=entries_folder(),
        )
        lines.say(figures(live.snapshot()) + waiting_for(config))
        with leaving(live, config), notifying(live, config.notify):
            return watch(live, arguments, lines, bell=config.notify.bell)
