"""`ampwright serve`: the devices without a screen, for screens that come and go."""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.commands.options import add_config, add_keeping, config_of, record_for
from monitor.mishaps import Refusal

if TYPE_CHECKING:
    from monitor.config_mqtt import Mqtt
    from monitor.service.life import Beside


def arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument(
        "--socket",
        type=Path,
        metavar="PATH",
        help="where screens attach, if not at the usual place",
    )
    parser.add_argument("--raw", action="store_true", help="record the bytes on the wire too")
    parser.add_argument(
        "--web",
        nargs="?",
        const="8000",
        metavar="PORT",
        help="show the screen, to look at only, to a browser of this machine (usual: 8000)",
    )
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
    password = _ready_to_publish(config.mqtt)
    port = _web_port(arguments.web)
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
        beside: list[Beside] = []
        if port is not None:
            from monitor.service.web import web_beside

            beside.append(web_beside(path, port, log.say))
        if config.mqtt.host:
            from monitor.service.publishing import Publisher

            say = log.say
            beside.append(Publisher(live, config.mqtt, password, live.earlier, say).run)
        with leaving(live, config), notifying(live, config.notify):
            run_service(live, path, str(Path(config.name).absolute()), log, beside)
        ended_well(live)
    return 0


def _ready_to_publish(mqtt: Mqtt) -> str | None:
    """The broker's password, if any; `Refusal` where nothing could be published."""
    if not mqtt.host:
        return None
    from monitor.config_mqtt import password_of
    from monitor.service.publishing import needs_mqtt

    needs_mqtt()
    try:
        return password_of(mqtt)
    except ValueError as error:
        raise Refusal(f"[mqtt] {error}") from None


def _web_port(place: str | None) -> int | None:
    """Where a browser finds the screen; `Refusal` where that cannot be."""
    if place is None:
        return None
    from monitor.service.web import needs_web, port_of

    needs_web()
    return port_of(place)


def _managed_state(record: Path | None) -> Path | None:
    """Without a record what is learned is kept in the directory that a service manager gives."""
    given = os.environ.get("STATE_DIRECTORY", "").split(":")[0]
    return Path(given) / "bank.state" if given and record is None else None
