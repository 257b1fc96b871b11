"""A scenario: everything that decides a run, frozen. The same scenario gives the same run."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import NamedTuple

from adapters.reading import Command
from replay.coach.models import (
    BankModel,
    DeviceModel,
    LoadModel,
    ProtectionModel,
    SecondBankModel,
    SourceModel,
    SupplyModel,
    Weather,
)


class NewBank(NamedTuple):
    """The old batteries are carried out at this hour and these are carried in."""

    hours: float
    bank: BankModel


class Onset(NamedTuple):
    """A fault by name, and when it begins (hours since the start; None: its own usual time)."""

    name: str
    hours: float | None = None


@dataclass(frozen=True, slots=True)
class Scenario:
    """A coach and what happens to it.

    `start_unix` is the wall clock at second 0; hours of the day follow from it and `longitude`.
    `step_seconds` of the physics, 1 to 5. `set_points_known`: whether its config tells the
    sources' set-points. `commands` are what a person tells meanwhile, in order of time; telling of
    a `new_bank` is up to them.
    """

    name: str
    words: str
    bank: BankModel
    sources: tuple[SourceModel, ...] = ()
    loads: tuple[LoadModel, ...] = ()
    devices: tuple[DeviceModel, ...] = ()
    weather: Weather = field(default_factory=Weather)
    protection: ProtectionModel | None = None
    supply: SupplyModel | None = None
    faults: tuple[Onset, ...] = ()
    hours: float = 24.0
    step_seconds: float = 5.0
    seed: int = 1
    start_unix: float = 1_781_121_600.0  # 2026-06-10 20:00 UTC
    latitude: float = 44.0
    longitude: float = -110.0
    set_points_known: bool = True
    standing_amps: float | None = None
    commands: tuple[Command, ...] = ()
    new_bank: NewBank | None = None
    second: SecondBankModel | None = None

    def with_fault(self, name: str, hours: float | None = None) -> Scenario:
        """The same coach with one more fault."""
        return replace(self, faults=(*self.faults, Onset(name, hours)))

    def with_hours(self, hours: float) -> Scenario:
        """The same coach for another length of time."""
        return replace(self, hours=hours)
