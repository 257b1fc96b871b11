"""`ampwright devices`: what is plugged in, what could read it, and how well it is heard."""

from __future__ import annotations

import argparse
import asyncio
import json
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from monitor.commands.options import add_config, config_path
from monitor.mishaps import Refusal, in_one_line

if TYPE_CHECKING:
    from monitor.config import Config
    from monitor.engine.snapshot import LinkView
    from monitor.link_health import Kept, Tried
    from monitor.plugged_in import Port

#: More polls than this would take minutes and tell no more.
_MOST_POLLS: Final = 1000


@dataclass(frozen=True, slots=True)
class Look:
    """A SunSpec device looked for at a host: what it says of itself, or why there is none."""

    place: str
    about: tuple[str, ...]
    error: str


def arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument(
        "--state", type=Path, metavar="FILE", help="tell what a kept state knows of the links"
    )
    parser.add_argument(
        "--polls", type=_polls, default=0, metavar="N", help="poll each configured device N times"
    )
    parser.add_argument("--host", metavar="HOST", help="look for a SunSpec device at this host")
    parser.add_argument("--port", type=int, metavar="N", help="its TCP port (else 502)")
    parser.add_argument("--device-id", type=int, metavar="N", help="its Modbus id (else 1)")
    parser.add_argument("--json", action="store_true", help="print JSON for programs")


def _polls(text: str) -> int:
    number = int(text) if text.isdecimal() else 0
    if not 1 <= number <= _MOST_POLLS:
        raise argparse.ArgumentTypeError(f"expected 1 to {_MOST_POLLS}; found {text!r}")
    return number


def run(arguments: argparse.Namespace) -> int:
    from adapters.installed import installed
    from monitor.plugged_in import can_interfaces, serial_ports

    if arguments.host is None and (arguments.port, arguments.device_id) != (None, None):
        raise Refusal("--port and --device-id go with --host: name the host to look at")
    config = _config(arguments)
    kept = tries = None
    if arguments.state is not None and config is not None:
        from monitor.link_health import kept_links

        kept = kept_links(config, arguments.state, time.time())
    if arguments.polls and config is not None:
        from monitor.service.owner import owning

        with owning(config.name, "devices"):
            tries = asyncio.run(_tries(config, arguments.polls))
    look = None
    if arguments.host is not None:
        from monitor.service.in_use import refuse_line_in_use

        there_is = f"{arguments.host}:{arguments.port or 502}"
        refuse_line_in_use(f"--host {arguments.host}", host=there_is)
        look = asyncio.run(_look(arguments.host, arguments.port, arguments.device_id))
    there = (serial_ports(), can_interfaces(), tuple(installed()))
    if arguments.json:
        print(json.dumps(_as_json(there, config, kept, tries, look), ensure_ascii=False, indent=1))
    else:
        print("\n".join(_as_text(there, config, kept, tries, look)))
    failed = any(one.error for one in (tries or {}).values())
    return 2 if failed or (look is not None and look.error) else 0


There = tuple["tuple[Port, ...]", tuple[str, ...], tuple[str, ...]]


def _config(arguments: argparse.Namespace) -> Config | None:
    """The configuration; None where none was asked for and none lies about."""
    from monitor.config import load_config

    needed = arguments.config is not None or arguments.state is not None or arguments.polls
    try:
        path = config_path(arguments.config)
    except Refusal:
        if needed:
            raise
        return None
    return load_config(path)


async def _tries(config: Config, polls: int) -> dict[str, Tried]:
    """All devices at the same time, as when they are watched."""
    from monitor.link_health import tried

    async with asyncio.TaskGroup() as group:
        tasks = {
            device.settings.name: group.create_task(tried(device, polls))
            for device in config.devices
        }
    return {name: task.result() for name, task in tasks.items()}


async def _look(host: str, port: int | None, device_id: int | None) -> Look:
    """One SunSpec device; the names of bank and source stand for whatever a config would say."""
    from adapters.adapter import DeviceSettings, LinkError, SettingsError, unheard
    from adapters.sunspec.device import sunspec

    given = {"host": host, "port": port, "device_id": device_id}
    options = {key: value for key, value in given.items() if value is not None}
    place = f"{host}:{port or 502}"
    settings = DeviceSettings(host, options, bank="bank", source="source", where="devices --host")
    try:
        adapter = sunspec(settings, unheard)
        try:
            await adapter.open()
        finally:
            await adapter.close()
    except (LinkError, SettingsError, OSError) as error:
        return Look(place, (), in_one_line(error)[0])
    return Look(place, adapter.about, "")


def _as_json(
    there: There,
    config: Config | None,
    kept: Kept | None,
    tries: dict[str, Tried] | None,
    look: Look | None,
) -> dict[str, Any]:
    ports, can, adapters = there
    known = {link.device: link for link in kept.links} if kept is not None else {}
    links: list[dict[str, Any]] = []
    for device in config.devices if config is not None else ():
        name = device.settings.name
        row: dict[str, Any] = {"device": name, "adapter": device.adapter}
        if name in known:
            row["kept"] = asdict(known[name])
        if tries is not None:
            row["tried"] = asdict(tries[name])
        links.append(row)
    return {
        "ports": [asdict(port) for port in ports],
        "can": list(can),
        "adapters": list(adapters),
        "config": None if config is None else config.name,
        "state_age_seconds": None if kept is None else kept.old_seconds,
        "links": links,
        "sunspec": None if look is None else asdict(look),
    }


def _as_text(
    there: There,
    config: Config | None,
    kept: Kept | None,
    tries: dict[str, Tried] | None,
    look: Look | None,
) -> Iterator[str]:
    from monitor.words.devices import LASTING, NO_PORTS, NONE

    ports, can, adapters = there
    yield "serial ports:" if ports else f"serial ports: {NO_PORTS}"
    for port in ports:
        yield f"  {port.path}{port.description and f', {port.description}'}"
        for name in port.lasting[:1]:
            yield f"    {LASTING} {name}"
    yield f"CAN interfaces: {', '.join(can) or NONE}"
    yield f"adapters: {', '.join(adapters)}"
    if config is None:
        yield "links: no configuration; write one with: ampwright init"
    else:
        yield from _links(config, kept, tries)
    if look is not None:
        yield f"SunSpec at {look.place}:"
        yield from (f"  {line}" for line in look.about)
        if look.error:
            yield f"  none: {look.error}"


def _links(config: Config, kept: Kept | None, tries: dict[str, Tried] | None) -> Iterator[str]:
    from monitor.words.figures import ago

    known = {link.device: link for link in kept.links} if kept is not None else {}
    aged = f", as kept {ago(kept.old_seconds)}" if kept is not None else ""
    yield f"links of {config.name}{aged}:" if config.devices else f"links of {config.name}: none"
    for device in config.devices:
        name = device.settings.name
        yield f"  {name} ({device.adapter}), every {device.period_seconds:g} s"
        if kept is not None:
            yield f"    {_heard(known.get(name))}"
        if tries is not None:
            yield from (f"    {line}" for line in _tried(tries[name]))
    if config.devices and kept is None and tries is None:
        yield "  how they are heard: add --polls 10, or --state FILE of a program that watches"


def _heard(link: LinkView | None) -> str:
    """What a state says of a link; ages are those at the moment it was kept."""
    from monitor.words.devices import NOT_HEARD, lost_polls
    from monitor.words.figures import ago

    if link is None or (link.age_seconds is None and link.up):
        return NOT_HEARD
    if not link.up:
        return f"silent: {link.reason}"
    heard = "never" if link.age_seconds is None else ago(link.age_seconds)
    spoke = f", spoke every {link.period_seconds:.1f} s" if link.period_seconds else ""
    lost = f", {lost_polls(link.lost_share)}"
    return f"answered, last {heard}{spoke}{lost}{link.reason and f'; {link.reason}'}"


def _tried(one: Tried) -> Iterator[str]:
    from monitor.words.devices import UNASKED, answer_takes

    if one.polls:
        counts = f"{one.polls} polls, {one.lost} lost"
        if one.unasked:
            counts += f"; {UNASKED}"
        elif one.median_seconds is not None and one.worst_seconds is not None:
            counts += f"; {answer_takes(one.median_seconds, one.worst_seconds)}"
        yield counts
    if one.error:
        yield f"last error: {one.error}"
    if one.remark:
        yield one.remark
