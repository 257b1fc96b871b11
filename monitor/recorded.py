"""What a recording is about: its site and starting state, from its header or a bank file.

A capture carries its own configuration. A plain table has none, so the bank comes from a file of
the person's (`--bank BANK.toml`), which can also stand in for that of a capture.
"""

from __future__ import annotations

import dataclasses
import itertools
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from adapters.reading import QUANTITIES, Reading, Scope
from monitor.bank import Link, Site, Source, SourceKind
from monitor.config import Config, ConfigError, load_config, parse_config
from monitor.engine.state import Json
from replay.capture import Header
from replay.plain_csv import CsvOptions
from replay.recording import Recording, open_recording

#: The only source of a table whose bank file names none.
TABLE_SOURCE: Final = "source"

#: Readings looked at to learn how often a table's device spoke, and of what.
_SAMPLE: Final = 500


@dataclass(frozen=True, slots=True)
class Recorded:
    """A recording with what its inputs mean."""

    recording: Recording
    site: Site
    state: Json | None
    config: Config


def open_recorded(
    path: Path, bank_path: Path | None = None, columns: dict[str, str] | None = None
) -> Recorded:
    """Open a capture or a table, with the bank of `bank_path` where one is given.

    Raises `CaptureError` or `ConfigError`, one line each.
    """
    given = load_config(bank_path) if bank_path is not None else None
    recording = open_recording(path, _options(given, columns))
    header = recording.header
    if not header.config:
        if given is None:
            raise ConfigError(
                (
                    f"{path}: holds no bank of its own; say which it is with --bank BANK.toml "
                    "(chemistry, nominal_volts and amp_hours below [banks.house])",
                )
            )
        return Recorded(recording, _site_for(given.site, recording), None, given)
    own = parse_config(header.config, f"{path}: its configuration", header.descriptions)
    if given is None:
        return Recorded(recording, own.site, _state(header), own)
    return Recorded(recording, _replaced(own.site, given), None, own)


def _options(given: Config | None, columns: dict[str, str] | None) -> CsvOptions:
    """Whose figures a table's columns are: those of the first bank and source of the bank file."""
    site = given.site if given is not None else None
    return CsvOptions(
        bank=site.banks[0].id if site is not None else "bank",
        source=site.sources[0].id if site is not None and site.sources else TABLE_SOURCE,
        columns=columns or {},
    )


def _site_for(site: Site, recording: Recording) -> Site:
    """The site of a bank file with what the recording itself tells: the names its figures are
    bound to, which sources it tells of, and how often each device spoke."""
    inputs = itertools.islice(recording.inputs(), _SAMPLE)
    readings = [value for value in inputs if isinstance(value, Reading)]
    channels = {channel for reading in readings for channel, _ in reading.values}
    banks = sorted({c.owner for c in channels if QUANTITIES[c.quantity].scope is Scope.BANK})
    sources = sorted({c.owner for c in channels if QUANTITIES[c.quantity].scope is Scope.SOURCE})
    if len(banks) == 1 and len(site.banks) == 1:
        site = _renamed(site, banks[0])
    known = {source.id for source in site.sources}
    more = (Source(s, site.banks[0].id, SourceKind.UNKNOWN) for s in sources if s not in known)
    devices = sorted({reading.device for reading in readings})
    links = tuple(Link(device, _period(readings, device)) for device in devices)
    return dataclasses.replace(site, sources=(*site.sources, *more), links=links)


def _period(readings: list[Reading], device: str) -> float:
    times = [reading.seconds for reading in readings if reading.device == device]
    rising = [later - earlier for earlier, later in itertools.pairwise(times) if later > earlier]
    import statistics

    return statistics.median(rising) if rising else 1.0


def _renamed(site: Site, bank_id: str) -> Site:
    """The same single bank under the name that a recording gives it."""
    return dataclasses.replace(
        site,
        banks=(dataclasses.replace(site.banks[0], id=bank_id),),
        sources=tuple(dataclasses.replace(source, bank=bank_id) for source in site.sources),
    )


def _replaced(site: Site, given: Config) -> Site:
    """The recorded site with the banks of another file in place of its own, by name.

    A single bank takes the place of a single bank whatever either is called: the recording's
    figures are bound to the name it was recorded with.
    """
    other = given.site
    if len(other.banks) == 1 and len(site.banks) == 1:
        other = _renamed(other, site.banks[0].id)
    by_id = {bank.id: bank for bank in other.banks}
    names = [bank.id for bank in site.banks]
    for bank_id in by_id:
        if bank_id not in names:
            raise ConfigError(
                (
                    f"{given.name}: expected a bank of the recording ({', '.join(names)}), "
                    f'found "{bank_id}"; rename it',
                )
            )
    return dataclasses.replace(site, banks=tuple(by_id.get(bank.id, bank) for bank in site.banks))


def _state(header: Header) -> Json | None:
    state: dict[str, Any] | None = dict(header.state) if header.state is not None else None
    return state
