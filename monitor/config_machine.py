"""What a configuration wants of the machine that it is read on, tried before it is needed.

A record that cannot be written, a command that is not there, a library that is missing: all of them
show when something happens, perhaps at night and months from now. `ampwright check` asks here.
Nothing stays behind of what is tried.
"""

from __future__ import annotations

import errno
import itertools
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from adapters.adapter import SettingsError
from adapters.checked_toml import shown
from adapters.description import load_text
from adapters.registers import ModbusDescription, Register
from monitor.config import Config
from monitor.config_keys import Problems
from monitor.config_mqtt import password_of
from monitor.mishaps import Refusal
from monitor.words.days import ahead_of_utc, zone_name


class Tried(NamedTuple):
    """One line about this machine; `fails` where the configuration cannot do what it says."""

    words: str
    fails: bool = True


def tried(config: Config, wall: float) -> Iterator[Tried]:
    """Everything that is amiss or worth knowing; `wall` is the Unix time of now."""
    places = Problems.of(config.name, config.text)
    yield from _record(config, places)
    for table, command in (
        ("notify", config.notify.command),
        ("computer", config.computer.shut_down_command if config.computer.shut_down else ()),
    ):
        if command and shutil.which(command[0]) is None:
            key = "command" if table == "notify" else "shut_down_command"
            yield Tried(
                f"{places.place((table, key))}: {table}.{key}: expected a program that can be run, "
                f"found none called {shown(command[0])}; give its whole path, and make it "
                "executable: chmod +x"
            )
    yield from _broker(config, places)
    for device in config.devices:
        name, text = device.settings.description_name, device.settings.description
        if text is not None:
            yield from overlaps(text, name)
    yield from _zone(config, wall)


def _record(config: Config, places: Problems) -> Iterator[Tried]:
    """Whether the record could be begun, or gone on with."""
    directory = config.history.directory
    if directory is None:
        return
    where = f"{places.place(('history', 'directory'))}: history.directory: "
    there = next(each for each in (directory, *directory.absolute().parents) if each.exists())
    if not there.is_dir():
        yield Tried(f"{where}expected a directory, found the file {there}; name another")
        return
    try:
        Path(tempfile.mkdtemp(prefix=".ampwright-check-", dir=there)).rmdir()
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        if error.errno in (errno.EACCES, errno.EPERM):
            yield Tried(
                f"{where}{there} may not be written by this user ({why}); whoever records must be",
                fails=False,
            )
        else:
            yield Tried(
                f"{where}expected a place that can be written to, found {there} ({why}); "
                "name another"
            )


def _broker(config: Config, places: Problems) -> Iterator[Tried]:
    if not config.mqtt.host:
        return
    from monitor.service.publishing import needs_mqtt

    try:
        needs_mqtt()
    except Refusal as error:
        yield Tried(f"{places.place(('mqtt',))}: {error}")
    try:
        password_of(config.mqtt)
    except ValueError as error:
        yield Tried(str(error))


def overlaps(text: str, name: str) -> Iterator[Tried]:
    """Registers of a description that share words with another, and are not the same figure.

    A slip of the pen far more often than a device's way; parts of one number, by their `bits`, are
    meant so. A description that cannot be read is for its adapter to tell.
    """
    try:
        description = load_text(text, name)
    except SettingsError:
        return
    if not isinstance(description, ModbusDescription):
        return
    for one, other in itertools.combinations(description.registers, 2):
        if one.table != other.table or one.end <= other.address or other.end <= one.address:
            continue
        if (one.addresses, one.type) == (other.addresses, other.type) and (one.bits or other.bits):
            continue
        yield Tried(
            f"{name}: {_named(one)} and {_named(other)} share registers of the table {one.table}; "
            "one of the two addresses or types is probably wrong",
            fails=False,
        )


def _named(register: Register) -> str:
    last = f" to {register.end - 1}" if register.count > 1 else ""
    return f"{register.conversion.measurand} ({register.address}{last})"


def _zone(config: Config, wall: float) -> Iterator[Tried]:
    """Screens go by the machine's zone, the record's days by its own: told where they differ."""
    history = config.history
    ahead = ahead_of_utc(wall)
    if history.directory is not None and ahead != history.zone_seconds:
        yield Tried(
            f"clock times: screens in {zone_name(ahead)} (machine); "
            f"record in {zone_name(history.zone_seconds)} ({history.zone_from})",
            fails=False,
        )
