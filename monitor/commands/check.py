"""`ampwright check`: the configuration, and each device tried once."""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import os
import sys
import time
from typing import TYPE_CHECKING, Final

from monitor.commands.options import add_config, config_path
from monitor.mishaps import Refusal

if TYPE_CHECKING:
    from adapters.adapter import Adapter, Values
    from adapters.reading import Channel
    from monitor.config import Config, DeviceConfig

#: Polls before a device counts as silent, and how long each may take.
_TRIES: Final = 3
_PATIENCE_SECONDS: Final = 15.0


def arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)


def run(arguments: argparse.Namespace) -> int:
    from monitor.config import ConfigError, load_config
    from monitor.config_machine import tried
    from monitor.service.owner import owning
    from monitor.service.power import caution
    from monitor.service.unit import system_manager
    from monitor.words.own_draw import own_draw

    try:
        config = load_config(config_path(arguments.config))
    except ConfigError as error:
        for problem in error.problems:
            print(problem, file=sys.stderr)
        return 2
    print(_site_in_words(config))
    for bank in config.site.banks:
        if draw := own_draw(bank):
            print(f"{bank.id}: {draw}")
    if words := caution(config.computer, system_manager(), root=os.geteuid() == 0):
        print(words, file=sys.stderr)
    failed = 0
    for words, fails in tried(config, time.time()):
        print(words, file=sys.stderr)
        failed += fails
    if not config.devices:
        print("no devices to try; add a table [devices.NAME]")
        return 2 if failed else 0
    with owning(config.name, "check"):
        failed += sum(not _try(device) for device in config.devices)
    return 2 if failed else 0


def _site_in_words(config: Config) -> str:
    banks = ", ".join(
        f"{bank.id} ({bank.chemistry.words}, {bank.nominal_volts} V, {bank.amp_hours:g} Ah)"
        for bank in config.site.banks
    )
    sources = ", ".join(f"{source.id} ({source.kind.value})" for source in config.site.sources)
    return f"{config.name}: banks {banks}; sources {sources or 'none'}"


def _try(device: DeviceConfig) -> bool:
    """One reading of one device, in words; or what is wrong, on stderr."""
    from adapters.adapter import LinkError, SettingsError, unheard
    from monitor.mishaps import in_one_line

    name = device.settings.name
    adapter = None
    try:
        adapter = device.build(unheard)
        values = asyncio.run(_one_reading(adapter))
    except (LinkError, SettingsError, OSError, Refusal) as error:
        _tell_about(name, adapter)
        print(f"{name}: {in_one_line(error)[0]}", file=sys.stderr)
        return False
    _tell_about(name, adapter)
    print(f"{name}: {_in_words(values) or 'answers, but gives no figure that is used'}")
    if remark := str(getattr(adapter, "remark", "")):
        print(f"{name}: {remark}", file=sys.stderr)
        return False
    return True


def _tell_about(name: str, adapter: Adapter | None) -> None:
    """What the device says of itself, where its adapter knows."""
    for line in getattr(adapter, "about", ()):
        print(f"{name}: {line}")


async def _one_reading(adapter: Adapter) -> Values:
    from adapters.adapter import LinkError, LinkLost
    from adapters.poll_result import polled

    try:
        async with asyncio.timeout(_PATIENCE_SECONDS * _TRIES):
            await adapter.open()
            for _ in range(_TRIES - 1):
                with contextlib.suppress(LinkError):
                    return await polled(adapter)
            return await polled(adapter)
    except LinkLost:
        raise
    except TimeoutError:
        raise Refusal(
            f"opened, but gave no reading in {_PATIENCE_SECONDS * _TRIES:g} s; "
            "check its cable, its address and that it is switched on"
        ) from None
    finally:
        with contextlib.suppress(Exception):
            await adapter.close()


def _in_words(values: Values) -> str:
    """`house bank voltage 12.62 V; house charge side closed: yes`."""
    from adapters.conversion import PERMITS
    from adapters.reading import QUANTITIES

    def one(channel: Channel, figure: float | str) -> str:
        words, unit = QUANTITIES[channel.quantity].words, QUANTITIES[channel.quantity].unit
        if channel.quantity in PERMITS:
            return f"{channel.owner} {words}: {'yes' if figure else 'no'}"
        shown = figure if isinstance(figure, str) else f"{figure:.5g} {unit}".rstrip()
        return f"{channel.owner} {words} {shown}"

    return "; ".join(one(channel, figure) for channel, figure in values)
