"""Sensors that are missing, backwards or in another unit: the bank's figures widen, and it is said.

The days are made up (`stories.py`), the trouble is laid over them, and what must come of it is
looked for where a person would: warnings, conditions, the interval around the state of charge.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.reading import Quantity, Reading
from monitor.bank import Bank
from monitor.chemistries import CHEMISTRIES
from monitor.engine.engine import Engine
from monitor.engine.snapshot import EventKind, Glance
from tests.monitor.engine.sites import site
from tests.monitor.engine.stories import Moment, Spell, readings, told
from tests.monitor.engine.test_properties import (
    PERIOD,
    QUICK,
    chemistries,
    day,
    days,
    glances,
    house,
    where,
)

#: Loads that switch every few minutes, then a charge: what any coach shows within two hours.
SWITCHING: Final = [
    spell
    for rate in (0.06, 0.1, 0.05, 0.08, 0.12)
    for spell in (Spell("load", 5.0, rate), Spell("rest", 4.0, 0.0))
]
CHARGED: Final = [*SWITCHING, Spell("charge", 60.0, 0.15)]


def conditions(of: Bank, given_readings: list[Reading]) -> Iterator[str]:
    """Every condition that is told of on the way, one by one: who has found his may stop."""
    engine = Engine(site(house=of, links=(("shunt", 5.0),)))
    for each in given_readings:
        for event in engine.step(each):
            if event.kind is EventKind.CONDITION and event.evidence:
                yield event.name


# Temperature.


def without(moments: list[Moment], seconds: float) -> list[Moment]:
    """The same moments with no temperature from then on."""
    return [m._replace(celsius=None) if m.seconds >= seconds else m for m in moments]


def spread(seen: list[Glance]) -> list[float]:
    return [glance.soc_sd or 0.0 for glance in seen]


@QUICK
@given(chemistry=chemistries, kind=days, share=st.floats(0.0, 1.0))
def test_a_temperature_that_is_missing_never_makes_surer(
    chemistry: str, kind: dict[str, Any], share: float
) -> None:
    """From the start or half way: against the same bank measured to be at 25 °C, as assumed."""
    of = house(chemistry)
    moments = day(of, {**kind, "celsius": 25.0})
    until = share * moments[-1].seconds if moments else 0.0
    known = glances(Engine(where(of)), readings(of, moments))
    unknown = glances(Engine(where(of)), readings(of, without(moments, until)))
    for one, other in zip(spread(known), spread(unknown), strict=True):
        assert other >= one * (1.0 - 1e-12)


@pytest.mark.parametrize("chemistry", ["flooded", "agm"])
def test_a_charge_without_temperature_is_less_sure(chemistry: str) -> None:
    """How much gas a charge makes doubles with every 10 °C: who does not know them, knows less."""
    of = house(chemistry)
    spells = [Spell("charge", 300.0, 0.15), Spell("float", 60.0, 0.15)]
    moments = told(of.chemistry, spells, period=PERIOD, celsius=25.0)
    known = glances(Engine(where(of)), readings(of, moments))
    for lost_at in (0.0, 3600.0):
        unknown = glances(Engine(where(of)), readings(of, without(moments, lost_at)))
        assert spread(unknown)[-1] > spread(known)[-1] * 1.01


def test_no_temperature_is_said() -> None:
    of = house("flooded")
    engine = Engine(where(of))
    moments = told(of.chemistry, [Spell("load", 120.0, 0.05)], period=PERIOD)
    for each in readings(of, without(moments, 0.0)):
        engine.step(each)
    view = engine.snapshot().banks[0]
    (fact,) = [fact for fact in view.warnings if fact.rule == "no-temperature"]
    assert "25 °C" in fact.words
    assert view.set_points.celsius is None
    assert view.celsius.figure is None


def test_a_temperature_that_is_lost_is_a_condition_and_a_warning() -> None:
    of = house("flooded")
    engine = Engine(where(of))
    moments = told(of.chemistry, [Spell("load", 180.0, 0.05)], period=PERIOD)
    events = [
        event
        for each in readings(of, without(moments, 3600.0))
        for event in engine.step(each)
        if event.kind is EventKind.CONDITION
    ]
    assert [event.name for event in events] == ["temperature-missing"]
    assert events[0].seconds < 3600.0 + 3600.0
    assert "no-temperature" in {fact.rule for fact in engine.snapshot().banks[0].warnings}


# Backwards.


@QUICK
@given(
    chemistry=chemistries,
    seed=st.integers(0, 2**16),
    soc=st.floats(0.3, 0.9),
    nominal=st.sampled_from([12, 24, 48]),
)
def test_a_shunt_that_is_backwards_is_found_and_a_right_one_left_alone(
    chemistry: str, seed: int, soc: float, nominal: int
) -> None:
    of = house(chemistry, nominal)
    moments = told(of.chemistry, CHARGED, seed=seed, period=5.0, soc=soc)
    turned = [moment._replace(rate=-moment.rate) for moment in moments]
    assert "shunt-reversed" in conditions(of, readings(of, turned))
    assert "shunt-reversed" not in conditions(of, readings(of, moments))


# In another unit.


def changed(quantity: Quantity, change: Callable[[float], float]) -> Callable[[Reading], Reading]:
    def apply(reading: Reading) -> Reading:
        values = tuple(
            (channel, change(figure) if channel.quantity is quantity else figure)  # type: ignore[arg-type]
            for channel, figure in reading.values
        )
        return Reading(reading.seconds, reading.device, values)

    return apply


UNITS: Final = [
    ("millivolts", Quantity.BANK_VOLTS, lambda v: 1000.0 * v, "readings-implausible"),
    ("tenths of a volt", Quantity.BANK_VOLTS, lambda v: 10.0 * v, "readings-implausible"),
    ("tens of volts", Quantity.BANK_VOLTS, lambda v: 0.1 * v, "readings-implausible"),
    ("volts of half the bank", Quantity.BANK_VOLTS, lambda v: 0.5 * v, "under-voltage"),
    ("a bank twice as high", Quantity.BANK_VOLTS, lambda v: 2.0 * v, "readings-implausible"),
    ("milliamps", Quantity.BANK_AMPS, lambda a: 1000.0 * a, "readings-implausible"),
    ("tenths of an amp", Quantity.BANK_AMPS, lambda a: 10.0 * a, "charge-current-high"),
    ("kelvin", Quantity.BANK_CELSIUS, lambda t: t + 273.15, "readings-implausible"),
    ("Fahrenheit", Quantity.BANK_CELSIUS, lambda t: 32.0 + 1.8 * t, "bank-hot"),
    ("tenths of a degree", Quantity.BANK_CELSIUS, lambda t: 10.0 * t, "readings-implausible"),
]


@pytest.mark.parametrize("chemistry", sorted(CHEMISTRIES))
@pytest.mark.parametrize(
    ("quantity", "change", "said"), [row[1:] for row in UNITS], ids=[row[0] for row in UNITS]
)
def test_a_wrong_unit_is_noticed(
    chemistry: str, quantity: Quantity, change: Callable[[float], float], said: str
) -> None:
    of = house(chemistry)
    moments = told(of.chemistry, CHARGED, period=5.0)
    wrong = [changed(quantity, change)(each) for each in readings(of, moments)]
    assert said in conditions(of, wrong)


def test_the_right_units_are_left_in_peace() -> None:
    for chemistry in sorted(CHEMISTRIES):
        of = house(chemistry)
        moments = told(of.chemistry, CHARGED, period=5.0)
        assert list(conditions(of, readings(of, moments))) == []
