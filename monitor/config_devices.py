"""The devices of the configuration, and where their descriptions lie.

What belongs to which bank or source is said here once: a device description names quantities
only, so that the same description serves on every coach.
"""

from __future__ import annotations

import contextlib
import os
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any, Final

import adapters
from adapters.adapter import Adapter, DeviceSettings
from adapters.checked_toml import shown
from adapters.conversion import PERIOD_BOUNDS
from adapters.installed import load
from adapters.reading import QUANTITIES, Quantity, Scope
from monitor.bank import Source
from monitor.config_keys import DEVICE, OWN_NAMES, ConfigError, Problems, nearest, read_table

#: A device that says nothing of its period is expected to speak every second.
DEFAULT_PERIOD_SECONDS: Final = 1.0

#: Gives the text of a description by its name, None where there is none.
Find = Callable[[str], str | None]

#: Names of banks or sources that may be named; None: not known, which is told already.
Known = list[str] | None

#: Where the adapters that open a serial port keep it from everybody else: the option that names
#: it. Modbus TCP connections and Linux's CAN interfaces are shared by their nature.
_OWN_PORT: Final = {
    "modbus-rtu": "port", "serial-lines": "port", "sunspec": "port", "rvc": "channel",
}  # fmt: skip

#: Those that ask by an address, and so share a line (`adapters.modbus_line`); and what they must
#: have in common on it.
_BY_ADDRESS: Final = frozenset({"modbus-rtu", "sunspec"})
_LINE_SETTINGS: Final = ("baud", "parity", "data_bits", "stop_bits", "local_echo")


@dataclass(frozen=True, slots=True)
class DeviceConfig:
    """A device, the adapter that reads it, and how often it should speak."""

    adapter: str
    settings: DeviceSettings
    period_seconds: float

    def build(self, raw: Callable[[bool, bytes], None]) -> Adapter:
        """Its adapter, not opened yet; `SettingsError` where there is none of that name."""
        return load(self.adapter, self.settings.where)(self.settings, raw)


def read_devices(
    given: Mapping[str, Mapping[str, object]],
    banks: Known,
    known: Known,
    sources: Mapping[str, Source],
    find: Find,
    problems: Problems,
) -> tuple[DeviceConfig, ...]:
    """The devices; `known` are the names of all sources, `sources` those that are right."""
    built = (
        _device(name, table, banks, known, sources, find, problems) for name, table in given.items()
    )
    return tuple(device for device in built if device is not None)


def refuse_shared_ports(devices: tuple[DeviceConfig, ...], problems: Problems) -> None:
    """Two devices on one serial port, by whatever names: only those share it that are asked by
    addresses of their own, with the same settings of the line."""
    on_port: dict[str, list[DeviceConfig]] = {}
    for device in devices:
        port = _serial_port(device)
        if port is None:
            continue
        others = on_port.setdefault(os.path.realpath(port), [])
        for other in others:
            if _cannot_share(device, other, port, problems):
                break
        others.append(device)


def _serial_port(device: DeviceConfig) -> str | None:
    """The port that a device opens, None where it opens none."""
    options = device.settings.options
    port = options.get(_OWN_PORT.get(device.adapter, ""))
    if not isinstance(port, str) or not port or "\0" in port:
        return None
    if device.adapter == "rvc" and options.get("interface") != "slcan":
        return None
    return port


def _cannot_share(device: DeviceConfig, other: DeviceConfig, port: str, problems: Problems) -> bool:
    """Tell why two devices cannot have one port; False where they can."""
    name, them = device.settings.name, f"[devices.{other.settings.name}]"
    ours, theirs = device.settings.options, other.settings.options
    path = ("devices", name)
    if not {device.adapter, other.adapter} <= _BY_ADDRESS:
        named = _serial_port(other)
        same = "" if named == port else f", by the name {shown(named)}"
        problems.add(
            (*path, _OWN_PORT[device.adapter]),
            "a serial port of its own",
            f"{shown(port)}, which {them} reads already{same}",
            "give each device its own port; only devices of modbus-rtu and sunspec share a line",
        )
    elif _address(device) == _address(other):
        problems.add(
            (*path, "device_id"),
            "an address of its own on the line",
            f"{_address(device)}, which is that of {them}",
            "set the address that the device answers to; its manual or its switches tell it",
        )
    elif unlike := [key for key in _LINE_SETTINGS if ours.get(key) != theirs.get(key)]:
        problems.add(
            (*path, unlike[0]),
            f"the same line settings as {them}, which has the same port",
            shown(ours.get(unlike[0], "none given")),
            "give all devices of one line the same " + ", ".join(_LINE_SETTINGS),
        )
    else:
        return False
    return True


def _address(device: DeviceConfig) -> object:
    """What a device is asked by; where its description is at fault that is told elsewhere."""
    given = device.settings.options.get("device_id")
    if given is None and device.adapter == "modbus-rtu":
        with contextlib.suppress(ValueError):
            given = tomllib.loads(device.settings.description or "").get("device_id")
    return 1 if given is None else given


def _device(
    name: str,
    given: Mapping[str, object],
    banks: Known,
    known: Known,
    sources: Mapping[str, Source],
    find: Find,
    problems: Problems,
) -> DeviceConfig | None:
    path = ("devices", name)
    before = len(problems.found)
    for own_name, whose in OWN_NAMES.items():
        if name == own_name:
            problems.add(path, "a name of its own", f'"{name}", {whose}', "rename it")
    own = {key: value for key, value in given.items() if key in DEVICE}
    options = {key: value for key, value in given.items() if key not in DEVICE}
    values = read_table(own, DEVICE, path, problems, ("adapter",))
    source = values.get("source")
    if source is not None and known is not None and source not in known:
        problems.add(
            (*path, "source"), "the name of a source", shown(source), nearest(source, known)
        )
    elif source is not None and source in sources and "bank" not in values:
        values["bank"] = sources[source].bank
    bank = bank_of(values, banks, path, problems)
    if source is None:
        source = _only_source(bank, sources)
    bind = _bind(values.get("bind", {}), banks, known, (*path, "bind"), problems)
    description = values.get("description")
    text = _description(description, find, (*path, "description"), problems)
    if len(problems.found) > before:
        return None
    settings = DeviceSettings(
        name=name,
        options=options,
        description=text,
        description_name=description or "",
        bank=bank,
        source=source,
        bind=bind,
        where=f"{problems.place(path)} [devices.{name}]",
    )
    return DeviceConfig(values["adapter"], settings, _period(options, text))


def _only_source(bank: str | None, sources: Mapping[str, Source]) -> str | None:
    """What a source's figures belong to where the bank has but one source."""
    of_bank = [source.id for source in sources.values() if source.bank == bank]
    return of_bank[0] if len(of_bank) == 1 else None


def _bind(
    given: Mapping[str, object],
    banks: Known,
    sources: Known,
    path: tuple[str, ...],
    problems: Problems,
) -> dict[str, str]:
    bound: dict[str, str] = {}
    quantities = [quantity.value for quantity in Quantity]
    for name, owner in given.items():
        if name not in quantities:
            problems.add(
                (*path, name), "the name of a quantity", shown(name), nearest(name, quantities)
            )
            continue
        scope = QUANTITIES[Quantity(name)].scope
        owners, kind = (banks, "bank") if scope in _OF_A_BANK else (sources, "source")
        if not isinstance(owner, str) or (owners is not None and owner not in owners):
            advice = nearest(owner, owners or ()) if isinstance(owner, str) else ""
            problems.add((*path, name), f"the name of a {kind}", shown(owner), advice)
            continue
        bound[name] = owner
    return bound


_OF_A_BANK: Final = frozenset({Scope.BANK, Scope.CELL})


def _description(
    name: str | None, find: Find, path: tuple[str, ...], problems: Problems
) -> str | None:
    if name is None:
        return None
    text = find(name)
    if text is None:
        problems.add(
            path,
            "a device description beside this file or among the shipped ones",
            f'no file "{name}"',
            nearest(name, shipped_descriptions()),
        )
    return text


def _period(options: Mapping[str, object], description: str | None) -> float:
    """How often the device should speak: as configured, else as described, else each second.

    A description that is no TOML is for its adapter to complain about, not for us.
    """
    found: object = options.get("period_seconds")
    if found is None and description is not None:
        try:
            found = tomllib.loads(description).get("period_seconds")
        except (ValueError, RecursionError):  # no TOML, or a number of thousands of digits
            found = None
    good = isinstance(found, (int, float)) and not isinstance(found, bool)
    if good and PERIOD_BOUNDS[0] <= found <= PERIOD_BOUNDS[1]:  # type: ignore[operator]  # as above
        return float(found)  # type: ignore[arg-type]  # good says that it is a number
    return DEFAULT_PERIOD_SECONDS


def bank_of(
    values: Mapping[str, Any], banks: Known, path: tuple[str, ...], problems: Problems
) -> str | None:
    """The bank named, or the only one there is."""
    bank = values.get("bank")
    if banks is None:
        return bank
    if bank in banks:
        return str(bank)
    if bank is not None:
        problems.add((*path, "bank"), "the name of a bank", shown(bank), nearest(bank, banks))
    elif len(banks) == 1:
        return banks[0]
    elif banks:
        problems.add((*path, "bank"), "the name of a bank", "nothing", nearest("", banks))
    return None


def read_text(path: FilePath) -> str:
    """A text file of the user's, or a ConfigError that says why not."""
    try:
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        advice = "write one with: ampwright init" if path.suffix == ".toml" else "check the name"
        raise ConfigError((f"{path}: expected a file, found none; {advice}",)) from None
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        raise ConfigError(
            (f"{path}:{line}: expected UTF-8 text, found another encoding; save it as UTF-8",)
        ) from None
    except OSError as error:
        raise ConfigError(
            (f"{path}: cannot be read: {(error.strerror or str(error)).lower()}",)
        ) from None


#: The device descriptions that come with the program.
_SHIPPED: Final = FilePath(adapters.__file__).parent / "descriptions"


def shipped_descriptions() -> tuple[str, ...]:
    """Names of the device descriptions that come with the program."""
    return tuple(sorted(path.name for path in _SHIPPED.glob("*.toml")))


def find_beside(folder: FilePath) -> Find:
    """Look for a description beside the configuration, then among the shipped ones."""

    def find(name: str) -> str | None:
        beside = folder / name
        if beside.is_file():
            return read_text(beside)
        if name in shipped_descriptions():
            return (_SHIPPED / name).read_text(encoding="utf-8")
        return None

    return find
