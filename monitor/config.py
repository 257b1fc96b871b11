"""The configuration file: TOML text to what the engine and the adapters need to know.

`load_config` reads a file and the device descriptions it names; `parse_config` does the same from
texts alone, so that the header of a capture builds the same configuration again, on any machine.
Nothing is opened here but files: whether a port exists is found out by whoever opens it.
"""

from __future__ import annotations

import itertools
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Any, Final

from adapters.checked_toml import shown
from monitor.bank import Bank, Link, Override, Protection, SetPoints, Site, Source, SourceKind
from monitor.chemistries import CHEMISTRIES
from monitor.config_computer import Computer, drawing, lay_up_overrides, read_computer
from monitor.config_devices import (
    DeviceConfig,
    Find,
    Known,
    bank_of,
    find_beside,
    read_devices,
    read_text,
    refuse_shared_ports,
)
from monitor.config_history import History, read_history
from monitor.config_keys import (
    BANK,
    PROTECTION,
    SET_POINTS,
    SITE,
    SOURCE,
    TOP,
    ConfigError,
    Problems,
    read_table,
    set_point_volts,
)
from monitor.config_limits import BANK_ROWS, SOURCE_ROWS, read_limits
from monitor.config_mqtt import Mqtt, read_mqtt
from monitor.config_notify import Notify, read_notify

__all__ = ["Config", "ConfigError", "DeviceConfig", "load_config", "parse_config"]

#: The name to look for where none is given.
DEFAULT_NAME: Final = "ampwright.toml"

#: Set-points are bounded by 5 % of capacity a hundredfold: an end-of-charge current above a quarter
#: of the capacity in amps is no end of charge (common practice: 0.5 to 5 %).
_END_OF_CHARGE_SHARE: Final = 0.25
#: Shares of the nominal volts between which an inverter gives up (common practice: 10.0 to 11.5 V
#: of 12 V, a little more for LFP).
_INVERTER_SHARE: Final = (0.75, 1.05)


@dataclass(frozen=True, slots=True)
class Config:
    """Everything one file says. `descriptions` are texts by the name the file gives them."""

    name: str
    text: str
    site: Site
    devices: tuple[DeviceConfig, ...] = ()
    descriptions: Mapping[str, str] = field(default_factory=dict)
    notify: Notify = field(default_factory=Notify)
    computer: Computer = field(default_factory=Computer)
    history: History = field(default_factory=History)
    mqtt: Mqtt = field(default_factory=Mqtt)


def load_config(path: FilePath | str) -> Config:
    """Read a file and the descriptions it names; ConfigError names file, line and key."""
    path = FilePath(path)
    return parse_config(read_text(path), str(path), find=find_beside(path.parent))


def parse_config(
    text: str,
    name: str,
    descriptions: Mapping[str, str] | None = None,
    *,
    find: Find | None = None,
) -> Config:
    """Build a configuration from its text; `descriptions` or `find` give those it names."""
    given, problems = _toml(text, name), Problems.of(name, text)
    top = read_table(given, TOP, (), problems)
    known_banks, known_sources = (_known(top, kind, problems) for kind in ("banks", "sources"))
    banks = tuple(_bank(key, value, problems) for key, value in top.get("banks", {}).items())
    if not top.get("banks") and not problems.found:
        problems.add((), "at least one bank", "none", "add a table [banks.house]")
    site = read_table(top.get("site", {}), SITE, ("site",), problems)
    place = top.get("site", {})
    if ("latitude" in place) != ("longitude" in place):
        problems.add(("site",), "latitude and longitude", "only one", "give both or neither")
    sources = tuple(
        _source(key, value, known_banks, problems) for key, value in top.get("sources", {}).items()
    )
    look = find or (descriptions or {}).get
    built = {source.id: source for source in sources if source is not None}
    devices = read_devices(
        top.get("devices", {}), known_banks, known_sources, built, look, problems
    )
    if find is not None:  # read on the machine that has the ports
        refuse_shared_ports(devices, problems)
    notify = read_notify(top.get("notify", {}), problems)
    computer = read_computer(top, top.get("banks", {}), known_banks, problems)
    history = read_history(
        top.get("history", {}), problems, FilePath(name).parent, site.get("longitude")
    )
    mqtt = read_mqtt(top.get("mqtt", {}), problems, FilePath(name).parent)
    overrides = lay_up_overrides(computer)
    overrides += read_limits(top.get("limits", {}), ("limits",), problems)
    overrides += _overrides(top, banks, problems)
    problems.check()
    whole = Site(
        banks=tuple(drawing(bank, computer) for bank in banks if bank is not None),
        sources=tuple(source for source in sources if source is not None),
        links=tuple(Link(device.settings.name, device.period_seconds) for device in devices),
        latitude=site.get("latitude"),
        longitude=site.get("longitude"),
        overrides=overrides,
    )
    texts = {
        device.settings.description_name: device.settings.description
        for device in devices
        if device.settings.description is not None
    }
    return Config(name, text, whole, devices, texts, notify, computer, history, mqtt)


def _known(top: Mapping[str, Any], kind: str, problems: Problems) -> Known:
    """The names of banks or sources as written, also of those that are refused.

    None where they cannot be known: their table was refused or is missing, which is told once; that
    something else names one of them is then no mistake of its own.
    """
    if kind not in top and (problems.found or kind == "banks"):
        return None
    return list(top.get(kind, {})) or ([] if kind == "sources" else None)


_TOML_PLACE: Final = re.compile(r"^(.*) \(at (?:line (\d+), column \d+|end of document)\)$", re.S)


def _toml(text: str, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        place = _TOML_PLACE.match(str(error))
        lines = text.splitlines()
        line = int(place.group(2)) if place and place.group(2) else max(len(lines), 1)
        what = place.group(1) if place else str(error)
        found = lines[line - 1].strip() if line <= len(lines) else ""
        problem = (
            f"{name}:{line}: expected TOML, found {shown(found)} ({what.lower()}); "
            "lines read: key = value, with text between quotes"
        )
        raise ConfigError((problem,)) from None
    except ValueError as error:  # a number of more digits than Python reads
        words = "a number of thousands of digits" if "digits" in str(error) else str(error)
        raise ConfigError((f"{name}:{_longest(text)}: expected TOML, found {words}",)) from None
    except RecursionError:
        raise ConfigError((f"{name}:1: expected TOML, found brackets without end",)) from None


def _longest(text: str) -> int:
    """The line that is the longest, counted from 1."""
    lines = text.splitlines()
    return 1 + max(range(len(lines)), key=lambda place: len(lines[place]), default=0)


def _overrides(
    top: Mapping[str, Any], banks: Sequence[Bank | None], problems: Problems
) -> tuple[Override, ...]:
    """What is said of the conditions of single banks and sources."""
    found: tuple[Override, ...] = ()
    for name, table in top.get("banks", {}).items():
        given = table.get("limits")
        if isinstance(given, Mapping):
            path = ("banks", name, "limits")
            kind = table.get("chemistry")
            kind = kind if isinstance(kind, str) and kind in CHEMISTRIES else None
            cells = {bank.id: bank.cells for bank in banks if bank is not None}.get(name)
            found += read_limits(given, path, problems, BANK_ROWS, name, kind, cells)
    for name, table in top.get("sources", {}).items():
        given = table.get("limits")
        if isinstance(given, Mapping):
            path = ("sources", name, "limits")
            found += read_limits(given, path, problems, SOURCE_ROWS, name)
    return found


def _bank(bank_id: str, given: Mapping[str, object], problems: Problems) -> Bank | None:
    path = ("banks", bank_id)
    before = len(problems.found)
    required = ("chemistry", "nominal_volts", "amp_hours")
    values = read_table(given, BANK, path, problems, required)
    inside = (*path, "set_points")
    points = read_table(values.get("set_points", {}), SET_POINTS, inside, problems)
    guarded = (*path, "protection")
    protection = read_table(values.get("protection", {}), PROTECTION, guarded, problems)
    if len(problems.found) > before:
        return None
    bank = Bank(
        id=bank_id,
        chemistry=values["chemistry"],
        nominal_volts=values["nominal_volts"],
        amp_hours=values["amp_hours"],
        series=values.get("series"),
        parallel=values.get("parallel"),
        lowest_soc=values.get("lowest_soc"),
        standing_amps=values.get("standing_amps"),
        set_points=SetPoints(**{("float_" if k == "float" else k): v for k, v in points.items()}),
        cable_amps=values.get("cable_amps"),
        fuse_amps=values.get("fuse_amps"),
        inverter_cut_off_volts=values.get("inverter_cut_off_volts"),
        protection=Protection(**protection),
    )
    _check_layout(bank, path, problems)
    _check_cut_offs(bank, path, problems)
    _check_volts(bank, points, inside, problems)
    return bank


def _check_layout(bank: Bank, path: tuple[str, ...], problems: Problems) -> None:
    if bank.series is not None and bank.cells % bank.series:
        problems.add(
            (*path, "series"),
            f"a number that divides the {bank.cells} cells in series of {bank.nominal_volts} V",
            str(bank.series),
            "two 6 V batteries in series make 12 V: series = 2",
        )


def _check_cut_offs(bank: Bank, path: tuple[str, ...], problems: Problems) -> None:
    low, high = (share * bank.nominal_volts for share in _INVERTER_SHARE)
    volts = bank.inverter_cut_off_volts
    if volts is not None and not low <= volts <= high:
        problems.add(
            (*path, "inverter_cut_off_volts"),
            f"{low:g} to {high:g} V for a bank of {bank.nominal_volts} V",
            f"{volts:g}",
            "give the volts of the whole bank",
        )
    if bank.chemistry.lead and bank.protection != Protection():
        problems.add(
            (*path, "protection"), "none on a lead-acid bank", "one", "it is for lfp: remove it"
        )


def _check_volts(
    bank: Bank, points: Mapping[str, Any], path: tuple[str, ...], problems: Problems
) -> None:
    low, high = (volts * bank.cells for volts in set_point_volts(bank.chemistry))
    named = ("low_hold", "float", "absorption", "equalize")
    held = [(name, float(points[name])) for name in named if name in points]
    for name, volts in held:
        if not low <= volts <= high:
            problems.add(
                (*path, name),
                f"{low:.1f} to {high:.1f} V for {bank.cells} cells of {bank.chemistry.words}",
                f"{volts:g}",
                "give the volts of the whole bank, and check nominal_volts and chemistry",
            )
    for (lower, lower_volts), (upper, upper_volts) in itertools.pairwise(held):
        if lower_volts > upper_volts:
            problems.add(
                (*path, upper),
                f"at least the {lower} of {lower_volts:g} V",
                f"{upper_volts:g}",
                "are the two exchanged?",
            )
    ends, most = bank.set_points.end_of_charge_amps, _END_OF_CHARGE_SHARE * bank.amp_hours
    if ends is not None and ends > most:
        problems.add(
            (*path, "end_of_charge_amps"),
            f"at most {most:g} A for {bank.amp_hours:g} Ah",
            f"{ends:g}",
            "0.5 to 5 % of the amp-hours is usual",
        )


def _source(
    source_id: str, given: Mapping[str, object], banks: Known, problems: Problems
) -> Source | None:
    path = ("sources", source_id)
    before = len(problems.found)
    values = read_table(given, SOURCE, path, problems)
    if source_id in (banks or ()):
        problems.add(
            path, "a name of its own", f'the name of a bank, "{source_id}"', "rename one of the two"
        )
    bank = bank_of(values, banks, path, problems)
    if bank is None or len(problems.found) > before:
        return None
    return Source(
        id=source_id,
        bank=bank,
        kind=values.get("kind", SourceKind.UNKNOWN),
        rated_amps=values.get("rated_amps"),
        cable_amps=values.get("cable_amps"),
        fuse_amps=values.get("fuse_amps"),
        ac_volts=values.get("ac_volts"),
        ac_expected=values.get("ac_expected", False),
    )
