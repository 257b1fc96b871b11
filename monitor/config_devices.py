"""The devices of the configuration, and where their descriptions lie.

What belongs to which bank or source is said here once: a device description names quantities
only, so that the same description serves on every coach.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any, Final

import adapters
from adapters.adapter import Adapter, DeviceSettings
from adapters.checked_toml import shown
from adapters.installed import load
from adapters.reading import QUANTITIES, Quantity, Scope
from monitor.bank import Source
from monitor.config_keys import DEVICE, OWN_NAMES, ConfigError, Problems, nearest, read_table

#: A device that says nothing of its period is expected to speak every second.
DEFAULT_PERIOD_SECONDS: Final = 1.0

#: Gives the text of a description by its name, None where there is none.
Find = Callable[[str], str | None]


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
    banks: list[str],
    sources: tuple[Source | None, ...],
    find: Find,
    problems: Problems,
) -> tuple[DeviceConfig, ...]:
    known = {source.id: source for source in sources if source is not None}
    built = (_device(name, table, banks, known, find, problems) for name, table in given.items())
    return tuple(device for device in built if device is not None)


def _device(
    name: str,
    given: Mapping[str, object],
    banks: list[str],
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
    if source is not None and source not in sources:
        problems.add(
            (*path, "source"), "the name of a source", shown(source), nearest(source, sources)
        )
    elif source is not None and "bank" not in values:
        values["bank"] = sources[source].bank
    bank = bank_of(values, banks, path, problems)
    if source is None:
        source = _only_source(bank, sources)
    bind = _bind(values.get("bind", {}), banks, sources, (*path, "bind"), problems)
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
    banks: list[str],
    sources: Mapping[str, Source],
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
        owners, kind = (banks, "bank") if scope in _OF_A_BANK else (list(sources), "source")
        if not isinstance(owner, str) or owner not in owners:
            advice = nearest(owner, owners) if isinstance(owner, str) else ""
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
        except tomllib.TOMLDecodeError:
            found = None
    if isinstance(found, (int, float)) and not isinstance(found, bool) and found > 0:
        return float(found)
    return DEFAULT_PERIOD_SECONDS


def bank_of(
    values: Mapping[str, Any], banks: list[str], path: tuple[str, ...], problems: Problems
) -> str | None:
    """The bank named, or the only one there is."""
    bank = values.get("bank")
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
