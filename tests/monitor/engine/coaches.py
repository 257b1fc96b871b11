"""Coaches for cases that the truth captures hardly hold, and the whole engine told of them.

Each scenario is a simulated coach of our own (`replay.coach`), its truth beside it; `told` plays it
to an engine whose site is read from the config its owner would have written, with set-points or
without. What is measured against truth leaves out what truth calls ambiguous.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from functools import lru_cache
from unittest.mock import patch

import pytest

from adapters.reading import Input
from monitor.bank import Site
from monitor.config import parse_config
from monitor.engine.engine import Engine
from monitor.engine.forecast import Forecast
from monitor.engine.snapshot import Event, EventKind, Fact, Glance, Priority
from replay.coach.config_text import config_text
from replay.coach.models import (
    BankModel,
    DeviceModel,
    LoadModel,
    ProtectionModel,
    SensorModel,
    Settings,
    SourceModel,
    Weather,
)
from replay.coach.scenario import Scenario
from replay.coach.simulate import simulate
from replay.coach.stories import HOUSE_LOADS
from replay.coach.truth import Truth

#: One seed in the quick suite, more in the slow one.
SEEDS = [1, *(pytest.param(seed, marks=pytest.mark.slow) for seed in (2, 3))]
GIVEN = [pytest.param(True, id="given"), pytest.param(False, id="hidden")]
#: Where one hidden case a file is tried in every run, the others with what is slow.
MOSTLY_GIVEN = [GIVEN[0], pytest.param(False, id="hidden", marks=pytest.mark.slow)]


def kinds(names: Iterable[str], hidden: Iterable[str]) -> list[object]:
    """Each chemistry given, and hidden; in every run hidden only for those named."""
    quick = frozenset(hidden)
    return [
        pytest.param(
            name,
            given,
            id=f"{name}-{'given' if given else 'hidden'}",
            marks=() if given or name in quick else pytest.mark.slow,
        )
        for name in names
        for given in (True, False)
    ]


FRIDGE, PUMP, LIGHTS = HOUSE_LOADS[:3]


def shunt(offset: float = 0.0, period: float = 10.0) -> DeviceModel:
    return DeviceModel(
        "shunt",
        (
            SensorModel("bank_volts", noise=0.005, step=0.01),
            SensorModel("bank_amps", noise=0.06, step=0.1, offset=offset),
            SensorModel("bank_celsius", noise=0.12, step=0.5),
        ),
        period,
    )


def meter(*quantities: str, source: str = "shore", period: float = 10.0) -> DeviceModel:
    """A device at the source's end of the leads."""
    noise = {"source_volts": 0.006, "source_amps": 0.08}
    step = {"source_volts": 0.01, "source_amps": 0.1}
    sensors = [
        SensorModel(name, source, noise.get(name, 0.0), step.get(name, 1.0)) for name in quantities
    ]
    return DeviceModel(f"{source}-meter", tuple(sensors), period, 1.7)


def guard() -> DeviceModel:
    """The bank's battery management, telling its two sides."""
    sides = (
        SensorModel("charge_permitted", step=1.0),
        SensorModel("discharge_permitted", step=1.0),
    )
    return DeviceModel("guard", sides, 10.0, 4.1)


@dataclass
class Told:
    """What the engine said of a coach, and what was true."""

    engine: Engine
    truths: list[Truth]
    glances: list[Glance]
    events: list[Event] = field(default_factory=list)

    def pairs(self, first: float, last: float) -> list[tuple[Truth, Glance]]:
        """Between two hours of the run."""
        return [
            (truth, glance)
            for truth, glance in zip(self.truths, self.glances, strict=True)
            if first * 3600.0 <= truth.seconds < last * 3600.0
        ]

    def share(self, first: float, last: float, *stages: str) -> float:
        """The share of that time in which one of these stages was said."""
        pairs = self.pairs(first, last)
        return sum(str(glance.stage) in stages for _, glance in pairs) / len(pairs)

    def macro_f1(self) -> float:
        """Mean over the true stages, without what is ambiguous."""
        both: Counter[str] = Counter()
        missed: Counter[str] = Counter()
        false: Counter[str] = Counter()
        for truth, glance in self.pairs(0.0, 1e9):
            said = str(glance.stage)
            if truth.ambiguous or glance.stage is None:
                continue
            if said == truth.stage:
                both[said] += 1
            else:
                missed[truth.stage] += 1
                false[said] += 1
        stages = set(both) | set(missed)
        return sum(2 * both[s] / (2 * both[s] + missed[s] + false[s]) for s in stages) / len(stages)

    def soc_error(self, first: float = 0.0, last: float = 1e9) -> float:
        """Root mean square, as a fraction."""
        errors = [
            (glance.soc - truth.soc) ** 2
            for truth, glance in self.pairs(first, last)
            if glance.soc is not None
        ]
        return float((sum(errors) / len(errors)) ** 0.5)

    def named(self, name: str) -> list[Event]:
        """Conditions of that name as they were raised, or what was learned or said by it."""
        return [
            event
            for event in self.events
            if event.name == name
            and (event.kind is not EventKind.CONDITION or event.priority is not Priority.NONE)
            and event.kind is not EventKind.ALARM
        ]

    def conditions(self) -> set[str]:
        return {
            event.name
            for event in self.events
            if event.kind is EventKind.CONDITION and event.priority is not Priority.NONE
        }

    def full_hours(self) -> list[float]:
        return [event.seconds / 3600.0 for event in self.named("full")]

    def true_full_hours(self) -> list[float]:
        return [truth.seconds / 3600.0 for truth in self.truths if truth.full]

    def evidence(self) -> tuple[Fact, ...]:
        return self.engine.snapshot().banks[0].stage.evidence


@lru_cache(maxsize=1)
def _simulated(scenario: Scenario) -> tuple[tuple[tuple[Input, ...], Truth], ...]:
    return tuple(simulate(scenario))


def site_of(scenario: Scenario, given: bool) -> Site:
    return parse_config(config_text(replace(scenario, set_points_known=given)), "coach.toml").site


def told(
    scenario: Scenario,
    given: bool = True,
    look: Callable[[Engine, Truth], None] | None = None,
    look_hours: Iterable[float] = (),
    config: Scenario | None = None,
) -> Told:
    """Play it to an engine; `look` at it as each of `look_hours` is reached.

    `config` is the coach that the owner believes he has, where that is another one.
    Nothing here looks ahead, and looking ahead is what takes the time: forecasts are left out.
    """
    engine = Engine(site_of(config or scenario, given))
    found = Told(engine, [], [])
    waiting = sorted(look_hours)
    with patch.object(Forecast, "update", lambda *_: None):
        for inputs, truth in _simulated(scenario):
            for value in inputs:
                found.events.extend(engine.step(value))
            found.truths.append(truth)
            found.glances.append(engine.glance("house"))
            while look is not None and waiting and truth.seconds >= waiting[0] * 3600.0:
                waiting.pop(0)
                look(engine, truth)
    return found


# -- the coaches -------------------------------------------------------------------------------


def long_leads(
    milliohms: float, *measured: str, seed: int = 1, absorption: float = 14.6
) -> Scenario:
    """A charger without sense leads, so far from the posts; twice connected, loads all the time."""
    settings = Settings(absorption, 13.4, end_amps=4.4, end_seconds=120.0, compensation_mv=-5.0)
    return Scenario(
        "long-leads",
        "a charger far from the posts",
        BankModel("house", "flooded", 12, 220.0, soc=0.62, celsius=18.0),
        sources=(
            SourceModel(
                "shore",
                "ac-charger",
                50.0,
                settings,
                milliohms=milliohms,
                connected=((0.5, 8.0), (10.5, 1e6)),
            ),
        ),
        loads=(FRIDGE, PUMP),
        devices=(shunt(), meter(*measured)) if measured else (shunt(),),
        weather=Weather(18.0, 3.0),
        hours=13.0,
        seed=seed,
    )


def guarded(*devices: DeviceModel, seed: int = 1, empty: bool = False) -> Scenario:
    """LFP whose first cell runs ahead, or whose last cell is empty first: the protection opens."""
    settings = Settings(14.2, 13.5, end_amps=8.0, end_seconds=60.0, absorption_hours=2.0)
    bank = BankModel("house", "lfp", 12, 200.0, soc=0.12 if empty else 0.72, spread=0.02)
    heater = (LoadModel("heater", 120.0, "steady"),) if empty else ()
    spells = ((4.0, 9.0),) if empty else ((0.5, 4.0), (6.0, 8.0))
    return Scenario(
        "guarded",
        "an LFP bank and its protection",
        bank if empty else replace(bank, spread=0.03),
        sources=(
            SourceModel("shore", "ac-charger", 50.0, settings, milliohms=3.0, connected=spells),
        ),
        loads=(FRIDGE, PUMP, *heater),
        devices=(shunt(), *devices),
        weather=Weather(20.0, 3.0),
        protection=ProtectionModel(high_cell=3.60, high_cell_close=3.40),
        hours=9.0,
        seed=seed,
    )


def low_hold(chemistry: str = "agm", seed: int = 1) -> Scenario:
    """Float for five hours, then a lower hold, and every six hours an hour at absorption."""
    absorption, float_, low, end = {
        "agm": (14.4, 13.6, 13.2, 2.0),
        "flooded": (14.6, 13.4, 13.1, 4.0),
    }[chemistry]
    settings = Settings(
        absorption,
        float_,
        end_amps=end,
        end_seconds=120.0,
        absorption_hours=6.0,
        compensation_mv=-4.0,
        low_hold=low,
        low_hold_after_hours=5.0,
        boost_every_hours=6.0,
    )
    return Scenario(
        "low-hold",
        "a charger that falls to a low hold",
        BankModel("house", chemistry, 12, 200.0, soc=0.85, celsius=18.0),
        sources=(SourceModel("shore", "ac-charger", 50.0, settings, milliohms=3.0, sense=True),),
        loads=(FRIDGE, PUMP, LIGHTS),
        devices=(shunt(),),
        weather=Weather(18.0, 3.0),
        hours=22.0,
        seed=seed,
    )


def low_sun(chemistry: str = "flooded", seed: int = 1, hours: float = 9.0) -> Scenario:
    """A small panel under clouds on a bank that is nearly full: a few amps near the set-point.

    From a little after noon.
    """
    absorption, float_ = {"flooded": (14.6, 13.4), "agm": (14.4, 13.6), "lfp": (14.2, 13.5)}[
        chemistry
    ]
    compensation = 0.0 if chemistry == "lfp" else -4.0
    settings = Settings(
        absorption,
        float_,
        end_amps=3.0,
        end_seconds=300.0,
        absorption_hours=3.0,
        compensation_mv=compensation,
    )
    return Scenario(
        "low-sun",
        "a small panel under clouds",
        BankModel("house", chemistry, 12, 200.0, soc=0.93, celsius=18.0),
        sources=(SourceModel("roof", "solar", 20.0, settings, milliohms=4.0, panel_watts=170.0),),
        loads=(LoadModel("electronics", 10.0), FRIDGE),
        devices=(shunt(),),
        weather=Weather(15.0, 5.0, cloud=0.6),
        hours=hours,
        seed=seed,
    )


#: Hours at which the inverter is on, and for how many minutes.
INVERTER = ((2.5, 4.0), (3.2, 1.0), (4.0, 6.0))


def big_inverter(chemistry: str, seed: int = 1) -> Scenario:
    """400 A for minutes while absorption is held."""
    lead = chemistry != "lfp"
    settings = Settings(
        14.4 if lead else 14.2,
        13.6 if lead else 13.5,
        end_amps=4.0 if lead else None,
        end_seconds=120.0,
        absorption_hours=8.0 if lead else 4.0,
        compensation_mv=-4.0 if lead else 0.0,
    )
    return Scenario(
        "big-inverter",
        "an inverter that takes 400 A",
        BankModel("house", chemistry, 12, 400.0, soc=0.80 if lead else 0.90, celsius=18.0),
        sources=(SourceModel("shore", "ac-charger", 50.0, settings, milliohms=2.0),),
        loads=(FRIDGE, LoadModel("inverter", 4900.0, "given", at=INVERTER)),
        devices=(shunt(),),
        weather=Weather(18.0, 3.0),
        hours=6.0,
        seed=seed,
    )
