"""The table [history] of the configuration: the record of months, and how long what is kept.

[history]
directory = "/var/lib/ampwright/history"   # made if it is not there; left out: no record is kept
keep_days = 30               # so long every row is kept; then one reading a minute
keep_years = 5               # so long one reading a minute; then what each day amounted to
keep_megabytes = 2000        # never more than this; the oldest is thinned first
zone_hours = -7              # midnight of the days; left out: by the longitude, else UTC
raw = false                  # keep the bytes on the wire too, as long as every row is kept
off = false                  # keep nothing for now
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from monitor.config_keys import Key, Problems, number, read_table, text, truth

#: The sun moves on by so many degrees an hour.
_DEGREES_AN_HOUR: Final = 15.0


@dataclass(frozen=True, slots=True)
class History:
    """How the record is kept. `directory` is None where none is. The spans are our choice: weeks to
    look closely at what happened, years to see a bank age; 2 GB is a small part of any card and
    room for some ten years (a day packs to about 1 MB with every row, 40 kB by the minute)."""

    directory: Path | None = None
    keep_days: float = 30.0
    keep_years: float = 5.0
    keep_megabytes: float = 2000.0
    zone_seconds: float = 0.0
    #: What the zone was taken from.
    zone_from: str = "no zone_hours"
    raw: bool = False


HISTORY: Final[Mapping[str, Key]] = {
    "directory": text("the name of a directory"),
    "keep_days": number("days from 1 to 3650", 1.0, 3650.0, "it is in days: 30 is a month"),
    "keep_years": number("years from 0 to 100", 0.0, 100.0, "it is in years: 0.5 is six months"),
    "keep_megabytes": number(
        "megabytes from 10 to 10000000", 10.0, 1e7, "it is in megabytes: 2000 is 2 GB"
    ),
    "zone_hours": number(
        "hours from -12 to 14 that local time is ahead of UTC", -12.0, 14.0, "west is negative"
    ),
    "raw": Key("true or false", truth),
    "off": Key("true or false", truth),
}


def read_history(
    given: Mapping[str, object], problems: Problems, beside: Path, longitude: float | None
) -> History:
    """The table as it is meant; what is wrong with it becomes a problem.

    A directory that is not absolute lies beside the configuration. Without `zone_hours` a day
    begins at the midnight of the whole hour nearest to the sun's, by the longitude.
    """
    before = len(problems.found)
    values = read_table(given, HISTORY, ("history",), problems)
    if given and "directory" not in given:
        problems.add(("history",), "a directory to keep it in", "none", 'add directory = "history"')
    if len(problems.found) > before:
        return History()
    usual = History()
    hours, source = values.get("zone_hours"), "zone_hours"
    if hours is None and longitude is not None:
        hours, source = float(round(longitude / _DEGREES_AN_HOUR)), "by the longitude"
    elif hours is None:
        hours, source = 0.0, usual.zone_from
    named = values.get("directory")
    kept = named is not None and not values.get("off", False)
    return History(
        directory=beside / Path(named).expanduser() if kept and named is not None else None,
        keep_days=values.get("keep_days", usual.keep_days),
        keep_years=values.get("keep_years", usual.keep_years),
        keep_megabytes=values.get("keep_megabytes", usual.keep_megabytes),
        zone_seconds=3600.0 * hours,
        zone_from=source,
        raw=values.get("raw", usual.raw),
    )
