"""The whole coach at one moment, and its step to the next. Faults reach everything from here.

Sources, loads and the bank meet at the posts; a protection may stand between the bank and the
rest. Order of a step: what sources could give, what loads want, one solution of the wiring, then
everything moves on by its own rules.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from replay.coach.circuit import Balance, Branch, Feed, balance, feed_amps
from replay.coach.lead import LeadBank
from replay.coach.lfp import LithiumBank
from replay.coach.loads import Loads
from replay.coach.models import BankModel
from replay.coach.protection import Protection
from replay.coach.scenario import Scenario
from replay.coach.second import SecondBank
from replay.coach.sensors import Device
from replay.coach.sky import Sky
from replay.coach.sources import OFF, Source, panel_amps, within
from replay.coach.supply import Supply

#: Electronics give up below this and start again above the second, per 12 V (common practice).
_LOADS_STOP_VOLTS: Final = 9.6
_LOADS_START_VOLTS: Final = 12.0
#: A hot alternator gives this much less (from memory).
_HOT_ALTERNATOR: Final = 0.35
#: Stands for a disconnected bank, so that the wiring still has one answer.
_NO_BANK: Final = Branch(0.0, 1e-3, 1e-3, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0)
#: The bank's own sensor sits on the case and lags the cells by about this long (from memory).
_SENSOR_LAG_SECONDS: Final = 600.0


class Plant:
    """Everything that moves. Numbers are as they truly are, before any sensor."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        seed = f"{scenario.name}/{scenario.seed}"
        self.bank = _bank(scenario.bank, scenario.step_seconds)
        nominal = scenario.bank.nominal_volts
        self.sources = [Source(model, nominal, self.bank.cells) for model in scenario.sources]
        self.sky = Sky(
            scenario.weather,
            scenario.latitude,
            scenario.longitude,
            scenario.start_unix,
            f"{seed}/sky",
        )
        self.loads = Loads(
            scenario.loads, self.sky.solar_hour(0.0), scenario.hours * 3600.0, f"{seed}/loads"
        )
        self.protection = None if scenario.protection is None else Protection(scenario.protection)
        self.supply = None if scenario.supply is None else Supply(scenario.supply, f"{seed}/ac")
        self.second = (
            None
            if scenario.second is None
            else SecondBank(scenario.second, nominal, scenario.step_seconds)
        )
        bank_id = scenario.bank.id
        self.devices = [
            Device(model, bank_id, f"{seed}/{model.name}") for model in scenario.devices
        ]
        self.seconds = 0.0
        self.posts = self.bus = self.bank.rest_volts()
        self.amps = 0.0
        self.load_amps = 0.0
        self.hidden_amps = 0.0
        self.case_celsius = self.bank.celsius
        self.loads_run = True
        # knobs of faults that belong to no single part
        self.bypassing: set[str] = set()
        self.sees_celsius: float | None = None
        self.half_difference = 0.0
        self.done: set[str] = set()
        self.wall_offsets: list[float] = []
        self._sources = {source.id: source for source in self.sources}
        self._chargers = [source for source in self.sources if source.model.kind == "ac-charger"]

    def replace_bank(self, model: BankModel) -> None:
        """Other batteries in the same place; everything around them stays."""
        self.bank = _bank(model, self.scenario.step_seconds)
        self.case_celsius = self.bank.celsius

    def source(self, source_id: str) -> Source:
        return self._sources[source_id]

    def step(self) -> None:
        """One step of physics."""
        step = self.scenario.step_seconds
        self.seconds += step
        sky, loads = self.sky, self.loads
        sky.at(self.seconds, step)
        loads.at(self.seconds)
        load_amps = self._wanted_amps()
        celsius = self.case_celsius if self.sees_celsius is None else self.sees_celsius
        feeds = [source.feed(self._available(source), celsius) for source in self.sources]
        branch = self.bank.branch()
        found = balance(branch, feeds, load_amps, self.bank.inner)
        if self.protection is not None and self._cut_off(found):
            found = self._apart(branch, feeds, load_amps)
        else:
            self.bus = found.posts
        self.posts, self.amps = found.posts, found.amps
        self.bank.advance(found, branch, sky.indoor_celsius)
        self.case_celsius += (self.bank.celsius - self.case_celsius) * step / _SENSOR_LAG_SECONDS
        for source, feed in zip(self.sources, feeds, strict=True):
            amps = feed_amps(feed, self.bus)
            source.advance(amps, self.bus, celsius, self.seconds, step)
        if self.protection is not None and isinstance(self.bank, LithiumBank):
            bank = self.bank
            self.protection.advance(
                bank.highest_cell_volts(), bank.lowest_cell_volts(), bank.celsius, step
            )
        if self.second is not None:
            self.second.advance(self.bus, sky.indoor_celsius)
        if self.supply is not None:
            self._take_from_supply(self.supply)

    def _wanted_amps(self) -> float:
        """Loads draw watts, whatever the voltage, until it is too low for them."""
        per_12 = self.bus * 12.0 / self.scenario.bank.nominal_volts
        if self.loads_run and per_12 < _LOADS_STOP_VOLTS:
            self.loads_run = False
        elif not self.loads_run and per_12 > _LOADS_START_VOLTS:
            self.loads_run = True
        if not self.loads_run:
            self.load_amps = self.hidden_amps = 0.0
            return 0.0
        loads = self.loads
        self.load_amps = (loads.watts * loads.more + loads.standing_watts) / self.bus
        self.load_amps += sum(s.leak_amps for s in self.sources if s.stage == OFF)
        if self.second is not None:
            self.load_amps += self.second.amps
        self.hidden_amps = loads.hidden_watts / self.bus
        return self.load_amps + self.hidden_amps

    def _available(self, source: Source) -> float:
        model = source.model
        if not within(model.connected, self.seconds / 3600.0):
            return 0.0
        return _AVAILABLE[model.kind](self, source)

    def _cut_off(self, found: Balance) -> bool:
        """Whether an open side of the protection forbids this current."""
        protection = self.protection
        if protection is None:
            return False
        return (found.amps > 0.0 and not protection.charge_closed) or (
            found.amps < 0.0 and not protection.discharge_closed
        )

    def _apart(self, branch: Branch, feeds: list[Feed], load_amps: float) -> Balance:
        """Bank and wiring each for themselves; loads go out where no source carries them."""
        able = sum(feed.limit for feed in feeds)
        if able > load_amps:
            self.bus = balance(_NO_BANK, feeds, load_amps, self.bus).posts
        else:
            self.bus, self.load_amps, self.hidden_amps = 0.5, 0.0, 0.0
        return balance(branch, [], 0.0, self.bank.inner)._replace(amps=0.0)

    def _take_from_supply(self, supply: Supply) -> None:
        chargers = self._chargers
        watts = sum(source.input_watts for source in chargers)
        factor = chargers[0].model.power_factor if chargers else 1.0
        hours = self.seconds / 3600.0
        present = any(within(source.model.connected, hours) for source in chargers)
        supply.advance(watts, factor, present or not chargers)

    @property
    def shunt_amps(self) -> float:
        """What passes the shunt: all but the draws and sources that go around it."""
        around = sum(self._sources[name].amps for name in sorted(self.bypassing))
        return self.amps + self.hidden_amps - around


def _bank(model: BankModel, step_seconds: float) -> LeadBank | LithiumBank:
    if model.chemistry == "lfp":
        return LithiumBank(model, step_seconds)
    return LeadBank(model, step_seconds)


def _from_supply(plant: Plant, source: Source) -> float:
    return source.limit if plant.supply is None or plant.supply.usable else 0.0


def _always(plant: Plant, source: Source) -> float:
    del plant
    return source.limit


def _from_sun(plant: Plant, source: Source) -> float:
    amps = panel_amps(source.model.panel_watts, plant.sky.irradiance, plant.bus)
    return min(amps, source.limit)


def _from_engine(plant: Plant, source: Source) -> float:
    del plant
    warm = (source.celsius - 25.0) / 35.0
    return source.limit * (1.0 - _HOT_ALTERNATOR * min(max(warm, 0.0), 1.0))


_AVAILABLE: Final[dict[str, Callable[[Plant, Source], float]]] = {
    "ac-charger": _from_supply,
    "fixed": _always,
    "solar": _from_sun,
    "alternator": _from_engine,
    "dc-dc": _always,
}
