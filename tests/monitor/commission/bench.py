"""The bench on which whole commissionings are made: a coach as it runs, and what hands do to it.

What an installer can change by hand (switches, plugs, warm hands, ice water, cord, generator) are
knobs here. A `Place` is a coach with all that is known of it, what the installer does there, and
the defects it may have.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final, NamedTuple

from monitor.bank import Site
from monitor.commission.record import Installation
from replay.coach.plant import Plant
from replay.coach.scenario import Scenario
from replay.coach.supply import split_legs

STEP_SECONDS: Final = 5.0
#: 2 AWG, 3 m one way, 30 °C: 2 * 3 * 0.194 / 304.8 * 0.855 ohm, and 0.1 mohm for each of four lugs.
LEAD_MILLIOHMS: Final = 3.27
LUG_MILLIOHMS: Final = 0.1
#: 50 m of 6 AWG at 1.3 mohm a metre, the cord and the transformer: a leg, and its neutral.
LEG_OHMS: Final = 0.1
#: An open neutral, for arithmetic.
OPEN_OHMS: Final = 1e6
#: What stands on each leg while one of them is loaded: a heater of 1500 W, some 200 W at 120 V.
HEATER_AND_REST: Final = (9.6, 72.0)


class Mains(NamedTuple):
    """What comes out of a pedestal or a generator."""

    volts: float
    hertz: float
    ohms: float


@dataclass(slots=True)
class Bench:
    """`load_watts` by name; `main` is the source whose cable is measured first. `shares` of the
    current by string, `lugs` in milliohm. `generator` None: there is none."""

    plant: Plant
    load_watts: Mapping[str, float] = field(
        default_factory=lambda: {"inverter": 620.0, "water heater": 380.0}
    )
    on: set[str] = field(default_factory=set)
    bypassing: set[str] = field(default_factory=set)
    shares: tuple[float, float] = (0.51, 0.49)
    lugs: list[float] = field(default_factory=lambda: [LUG_MILLIOHMS] * 4)
    lead_milliohms: float = LEAD_MILLIOHMS
    probe_in_water: float | None = None
    probe_plugged: bool = True
    power_factor: float = 0.95
    sensor_in_air: bool = False
    hands_warm: float = 0.0
    derates: bool = False
    standing_watts: float = 1.5
    # the AC side
    shore: Mains | None = None
    generator: Mains | None = None
    cord_in: bool = True
    generator_runs: bool = False
    change_sticks: bool = False
    pins_live: bool = False
    neutral_ohms: float = LEG_OHMS
    tester_right: bool = True
    # other sources and guards
    disconnected: bool = False
    leaks: dict[str, float] = field(default_factory=dict)
    told_scale: float = 1.0
    guard_welded: bool = False
    _changed: bool = False

    @property
    def main(self) -> str:
        return self.plant.sources[0].id

    def sources(self, *names: str) -> None:
        """Only these are switched on."""
        for source in self.plant.sources:
            source.dead = source.id not in names

    def loads(self, *names: str) -> None:
        self.on = set(names)

    def amps_of(self, name: str) -> float:
        """What a clamp on its cable would show; loads draw positive watts, a source that takes
        back negative."""
        for source in self.plant.sources:
            if source.id == name:
                return source.amps if source.on else -source.leak_amps
        return self.load_watts[name] / self.plant.bus if name in self.on else 0.0

    def case_of(self, name: str) -> float:
        """How warm a source stands in the air beside it."""
        plant = self.plant
        return plant.sky.indoor_celsius + plant.source(name).celsius - plant.case_celsius

    def pull(self, device: str, out: bool) -> None:
        for each in self.plant.devices:
            if each.name == device:
                each.silent = out

    def pull_sensor(self, out: bool) -> None:
        for device in self.plant.devices:
            for sensor in device.sensor("bank_celsius"):
                sensor.missing = out

    def open_guard(self, opened: bool) -> None:
        """By its test key."""
        guard = self.plant.protection
        if guard is not None and not self.guard_welded:
            guard.force_charge_open = guard.force_discharge_open = opened

    def legs(self) -> tuple[float, float]:
        """Volts of both legs with a heater on the first."""
        assert self.shore is not None
        return split_legs(self.shore.volts, LEG_OHMS, self.neutral_ohms, HEATER_AND_REST)

    def before_step(self) -> None:
        """Everything that hands hold, into the plant."""
        plant = self.plant
        loads, watts = plant.loads, self.load_watts
        seen = [name for name in self.on if name not in self.bypassing]
        loads.standing_watts = self.standing_watts + sum(watts[name] for name in seen)
        loads.hidden_watts = sum(watts[name] for name in self.on if name in self.bypassing)
        main = plant.source(self.main)
        if not self.probe_plugged and not main.dead:
            plant.sees_celsius = 25.0  # what a charger without its probe falls back to
        else:
            plant.sees_celsius = self.probe_in_water
        self._supply()
        if self.derates and main.celsius > plant.case_celsius + 12.0:
            main.limit = 0.55 * main.model.rated_amps
        for source in plant.sources:
            source.leak_amps = 0.0 if self.disconnected else self.leaks.get(source.id, 0.0)
        self.hands_warm = max(self.hands_warm - STEP_SECONDS / 900.0, 0.0)
        main.milliohms = self.lead_milliohms + sum(self.lugs)
        for device in plant.devices:
            for sensor in device.sensor("bank_celsius"):
                warm = 0.0 if self.sensor_in_air else 6.0 * min(self.hands_warm, 0.6)
                sensor.offset = sensor.model.offset + warm
                if self.sensor_in_air:
                    sensor.look = self._air
            for sensor in device.sensor("source_amps"):
                sensor.scale = sensor.model.scale * self.told_scale

    def _supply(self) -> None:
        supply = self.plant.supply
        if supply is None:
            return
        supply.power_factor = self.power_factor
        if self.shore is None:
            return
        mains = self._mains()
        supply.lost = mains is None or self.neutral_ohms >= OPEN_OHMS
        if mains is not None:
            supply.source_volts, supply.source_hertz, supply.ohms = mains
            if self.neutral_ohms > LEG_OHMS:
                supply.ohms += self.neutral_ohms  # the charger is on the first leg

    def _mains(self) -> Mains | None:
        """A change-over switch: to the generator while it runs, else to the cord."""
        if self.generator_runs:
            self._changed = True
            return self.generator
        if not self.cord_in or (self._changed and self.change_sticks):
            return None
        return self.shore

    def _air(self) -> float:
        return self.plant.sky.indoor_celsius

    def warm_the_post(self) -> None:
        self.hands_warm = 1.0


Defect = Callable[[Bench], None]


class Place(NamedTuple):
    """`parts` of the installer's work in their order; each of `defects` turns something, and the
    check that must name it, and it alone. `mains` are those of pedestal and generator; `ordinary`
    turns what is no defect."""

    name: str
    scenario: Scenario
    site: Site
    installation: Installation
    load_watts: Mapping[str, float]
    parts: tuple[str, ...]
    defects: Mapping[str, tuple[Defect, str]]
    mains: tuple[Mains | None, Mains | None] = (None, None)
    ordinary: Defect | None = None


def set_up(
    place: Place, seed: int, defect: Defect | None = None, soc: float | None = None
) -> Bench:
    scenario = place.scenario
    bank = scenario.bank if soc is None else replace(scenario.bank, soc=soc)
    plant = Plant(replace(scenario, seed=seed, bank=bank))
    shore, generator = place.mains
    bench = Bench(plant, place.load_watts, shore=shore, generator=generator)
    bench.lead_milliohms = plant.sources[0].model.milliohms - sum(bench.lugs)
    bench.sources()
    bench.loads()
    if place.ordinary is not None:
        place.ordinary(bench)
    if defect is not None:
        defect(bench)
    return bench
