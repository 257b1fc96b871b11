"""One minute of one bank and its sources: what everything that follows hours and days is given.

Means over the minute, worked out once; building one such value a minute costs nothing.
"""

from __future__ import annotations

from typing import NamedTuple

from monitor.bank import SourceKind


class SourceMinute(NamedTuple):
    """`amps` its own, None where not measured; `says_off`: it calls itself off or at rest;
    `silent`: it has given nothing for minutes; `ac_volts` of its supply, None where not seen."""

    id: str
    kind: SourceKind
    rated_amps: float | None
    amps: float | None
    reported: str | None
    silent: bool
    ac_volts: float | None

    @property
    def says_off(self) -> bool:
        return self.reported in ("off", "rest", "fault")

    @property
    def sun(self) -> bool:
        return self.kind is SourceKind.SOLAR


class Minute(NamedTuple):
    """`elapsed` seconds that were seen since the minute before; `stage` as a word, `sure` that it
    is very likely; `capacity` usable over labelled and `offset` of the current sensor in amps,
    each with its deviation; `load_watts` None where loads cannot be told apart."""

    seconds: float
    elapsed: float
    volts: float
    amps: float
    celsius: float | None
    stage: str
    sure: bool
    soc: float
    soc_sd: float
    capacity: float
    capacity_sd: float
    offset: float
    offset_sd: float
    last_full: float | None
    load_watts: float | None
    sources: tuple[SourceMinute, ...]

    @property
    def hours(self) -> float:
        return self.elapsed / 3600.0
