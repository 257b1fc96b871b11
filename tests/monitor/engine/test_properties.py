"""What must hold of the whole engine whatever it is told: properties over made-up days and noise.

Inputs go in as inputs and figures come out as glances, snapshots, events and states; no room is
looked into. Quick and repeatable in `make test`; `test_thoroughly` tries each property on many more
examples, different ones at every run.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any, Final
from unittest import mock

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from adapters.reading import (
    REPORTABLE_STAGES,
    Action,
    Channel,
    Command,
    Input,
    LinkState,
    Quantity,
    Reading,
    Tick,
)
from monitor.bank import Bank, SetPoints, Site
from monitor.chemistries import CHEMISTRIES
from monitor.engine import unknowns
from monitor.engine.engine import Engine
from monitor.engine.snapshot import Glance
from tests.monitor.engine.sites import bank, reading, site
from tests.monitor.engine.stories import Moment, Spell, readings, told

QUICK: Final = settings(
    max_examples=5,
    phases=[Phase.explicit, Phase.generate],  # whole days shrink far too slowly
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
TWO: Final = settings(QUICK, max_examples=2)
THOROUGH: Final = settings(QUICK, max_examples=300, derandomize=False)
PERIOD: Final = 60.0

Property = Callable[..., None]
PROPERTIES: Final[dict[str, tuple[Property, dict[str, st.SearchStrategy[Any]]]]] = {}


def holds(
    quickly: settings = QUICK, **strategies: st.SearchStrategy[Any]
) -> Callable[[Property], Property]:
    """Test the property on a few examples, and remember it for `test_thoroughly`."""

    def examined(check: Property) -> Property:
        PROPERTIES[check.__name__] = check, strategies
        return quickly(given(**strategies)(check))

    return examined


# Made-up days.

chemistries = st.sampled_from(sorted(CHEMISTRIES))
rates = st.floats(0.002, 0.4)
spells = st.builds(
    Spell,
    st.sampled_from(["charge", "charge", "float", "load", "load", "rest", "silence"]),
    st.integers(1, 150),
    rates,
)
days = st.builds(
    dict,
    spells=st.lists(spells, min_size=1, max_size=5),
    seed=st.integers(0, 2**16),
    soc=st.floats(0.05, 1.0),
    celsius=st.one_of(st.none(), st.floats(-15.0, 48.0)),
)


def day(house: Bank, kind: dict[str, Any]) -> list[Moment]:
    return told(house.chemistry, period=PERIOD, **kind)


def house(chemistry: str, nominal: int = 12, amp_hours: float = 200.0) -> Bank:
    return bank(chemistry, nominal, amp_hours, set_points=SetPoints())


def where(of: Bank) -> Site:
    return site(house=of, links=(("shunt", PERIOD),))


def glances(engine: Engine, inputs: list[Reading]) -> list[Glance]:
    seen = []
    for each in inputs:
        engine.step(each)
        seen.append(engine.glance("house"))
    return seen


def kept(engine: Engine) -> str:
    """The state as text; a figure that is no number is no JSON and raises."""
    return json.dumps(engine.state(), allow_nan=False)


# Sane, whatever comes.


def assert_sane(engine: Engine) -> None:
    """Fractions are fractions, probabilities sum to one, no figure anywhere is not finite."""
    snapshot = engine.snapshot()
    for view in snapshot.banks:
        soc, sd, _ = view.charge.soc
        if soc is not None:
            assert 0.0 <= soc <= 1.0
            assert sd is not None
            assert 0.0 < sd < 1.0
        probabilities = view.stage.probabilities
        assert len(probabilities) == 7
        assert min(probabilities) >= 0.0
        assert math.fsum(probabilities) == pytest.approx(1.0, abs=1e-9)
        assert view.stage.probability <= 1.0
        for interval in (view.forecast.to_full, view.forecast.left):
            if interval.seconds is None:
                assert interval.reason
            else:
                assert interval.low is not None
                assert interval.high is not None
                assert 0.0 <= interval.low <= interval.seconds <= interval.high
    assert_finite(snapshot)
    assert_finite(json.loads(kept(engine)))


def assert_finite(thing: Any) -> None:
    """No not-a-number and no infinity, however deep."""
    if isinstance(thing, float):
        assert math.isfinite(thing)
    elif isinstance(thing, dict):
        for value in thing.values():
            assert_finite(value)
    elif isinstance(thing, list | tuple):
        for value in thing:
            assert_finite(value)
    elif hasattr(thing, "__slots__"):
        for name in thing.__slots__:
            assert_finite(getattr(thing, name))


@holds(chemistry=chemistries, nominal=st.sampled_from([12, 24, 48]), kind=days)
def test_any_day_leaves_charge_and_stage_sane(
    chemistry: str, nominal: int, kind: dict[str, Any]
) -> None:
    of = house(chemistry, nominal)
    engine = Engine(where(of))
    for number, each in enumerate(readings(of, day(of, kind))):
        engine.step(each)
        glance = engine.glance("house")
        assert glance.soc is not None
        assert 0.0 <= glance.soc <= 1.0
        assert glance.soc_sd is not None
        assert 0.0 < glance.soc_sd < 1.0
        if number % 60 == 0:
            assert_sane(engine)
    assert_sane(engine)


ABSURD: Final = (
    math.nan,
    math.inf,
    -math.inf,
    0.0,
    -0.0,
    1e308,
    -1e308,
    5e-324,
    10**400,
    "bulk",
    "",
    "NaN",
    *sorted(REPORTABLE_STAGES),
)
owners = st.sampled_from(["house", "shore", "yacht", "", "house#3"])
channels = st.builds(Channel, owners, st.sampled_from(list(Quantity)))
figures = st.one_of(
    st.sampled_from(ABSURD),
    st.floats(),
    st.floats(-50.0, 60.0),
    st.integers(-50, 60),
)
moments = st.one_of(
    st.floats(0.0, 4000.0),
    st.integers(0, 4000).map(float),
    st.sampled_from([math.nan, math.inf, -math.inf, -1.0, -1e18, 1e9]),
)
devices = st.sampled_from(["shunt", "charger", "", "nobody knows me"])
words = st.sampled_from(["", "90 until morning", "nan", "inf", "-5", "1e999", "12.62", "x\ny"])
targets = st.sampled_from(
    ["", "house", "shore", "shunt", "site", "yacht", "house:over-voltage", "house:bank_volts", ":"]
)
anything = st.one_of(
    st.builds(Reading, moments, devices, st.lists(st.tuples(channels, figures)).map(tuple)),
    st.builds(LinkState, moments, devices, st.booleans(), words),
    st.builds(Tick, moments, st.one_of(st.none(), st.floats(), st.floats(1.6e9, 1.9e9))),
    st.builds(Command, moments, words, st.sampled_from(list(Action)), targets, words),
)


@holds(
    chemistry=chemistries,
    strange=st.lists(anything, min_size=1, max_size=40),
    every=st.integers(1, 20),
)
def test_whatever_comes_in_nothing_raises_and_nothing_absurd_stays(
    chemistry: str, strange: list[Input], every: int
) -> None:
    """Any device, any order, any command, any figure, among readings of an ordinary bank."""
    of = house(chemistry)
    place = site(house=of, sources=("shore",), links=(("shunt", 5.0), ("charger", 5.0)))
    engine = Engine(place)
    plain = readings(of, told(of.chemistry, [Spell("load", 60.0, 0.05)], period=5.0))
    for number, each in enumerate(plain):
        if number % every == 0 and strange:
            engine.step(strange.pop())
        engine.step(each)
    for each in strange:
        engine.step(each)
    assert_sane(engine)
    assert_sane(Engine(place, json.loads(kept(engine))))


# Late, twice, absurd.


@holds(
    chemistry=chemistries,
    kind=days,
    back=st.lists(st.floats(0.0, 1e5), min_size=1, max_size=5),
    volts=st.floats(8.0, 16.0),
)
def test_late_and_duplicate_inputs_change_nothing(
    chemistry: str, kind: dict[str, Any], back: list[float], volts: float
) -> None:
    of = house(chemistry)
    engine = Engine(where(of))
    given_readings = readings(of, day(of, kind)) or [reading(0.0)]
    for each in given_readings:
        engine.step(each)
    before, events = kept(engine), engine.snapshot().last_event
    last = given_readings[-1]
    assert engine.step(last) == ()
    for seconds in back:
        moment = last.seconds - seconds
        assert engine.step(reading(moment, volts, 50.0)) == ()
        assert engine.step(Tick(moment)) == ()
        if moment < last.seconds:
            assert engine.step(LinkState(moment, "shunt", False, "unplugged")) == ()
    assert engine.step(given_readings[len(given_readings) // 2]) == ()
    assert kept(engine) == before
    assert engine.snapshot().last_event == events


# Gaps.


@holds(
    chemistry=chemistries,
    kind=days,
    gap=st.floats(181.0, 10.0 * 86400.0),
    after=st.sampled_from(["load", "rest", "charge"]),
)
def test_uncertainty_never_shrinks_across_a_gap(
    chemistry: str, kind: dict[str, Any], gap: float, after: str
) -> None:
    """From the last look before a gap to the first reading after it, and grows with the gap."""
    of = house(chemistry)
    engine = Engine(where(of))
    for each in readings(of, day(of, kind)):
        engine.step(each)
    engine = with_nothing_pending(engine, of)
    now = engine.seconds
    assert now is not None
    before = engine.glance("house").soc_sd
    (first, *_) = told(of.chemistry, [Spell(after, 1.0, 0.05)], period=PERIOD, soc=0.5)
    seen = []
    for silence in (gap, 2.0 * gap):
        twin = Engine(engine.site, json.loads(kept(engine)))
        twin.step(readings(of, [first._replace(seconds=now + silence)])[0])
        seen.append(twin.glance("house").soc_sd)
    assert None not in (before, *seen)
    assert before <= seen[0] <= seen[1]  # type: ignore[operator]


def with_nothing_pending(engine: Engine, of: Bank) -> Engine:
    """Step on until what was counted has been taken in: what follows then is the gap's alone."""
    seconds = engine.seconds if engine.seconds is not None else 0.0
    for moment in told(of.chemistry, [Spell("load", 60.0, 0.05)], period=PERIOD, soc=0.5):
        engine.step(readings(of, [moment._replace(seconds=seconds + PERIOD + moment.seconds)])[0])
        memory = engine.state()["memory"]["banks"][0]
        if memory["started"] and memory["charge"]["_block_seconds"] == 0.0:
            return engine
    raise AssertionError("an hour of readings, and still something pending")


# One bank is like another.


def alike(one: list[Glance], other: list[Glance], more: float) -> None:
    """The same stages and the same charge, bit for bit; amps `more` times as many."""
    for a, b in zip(one, other, strict=True):
        assert (a.stage, a.soc, a.soc_sd, a.to_full) == (b.stage, b.soc, b.soc_sd, b.to_full)
        assert a.amps is not None
        assert a.amps * more == b.amps


powers = st.sampled_from([-2, -1, 1, 2, 3, 4])


@holds(chemistry=chemistries, kind=days, power=powers)
def test_a_bank_twice_as_large_behind_a_shunt_twice_as_large_is_the_same_bank(
    chemistry: str, kind: dict[str, Any], power: int
) -> None:
    """Ampere-hours, amps, conductance, noise, steps, offset by a power of two: not a bit differs.

    What a shunt may be off is the one figure of the engine that is in amps and not in sizes of the
    bank (`unknowns.py`: shunts are bought in absolute sizes), so here the shunt grows as well.
    """
    small, large = house(chemistry), house(chemistry, amp_hours=200.0 * 2.0**power)
    moments = day(small, kind)
    one = glances(Engine(where(small)), readings(small, moments))
    with mock.patch.object(unknowns, "OFFSET_AMPS", unknowns.OFFSET_AMPS * 2.0**power):
        other = glances(Engine(where(large)), readings(large, moments))
    alike(one, other, 2.0**power)


@holds(TWO, chemistry=chemistries, kind=days, power=powers)
def test_a_bank_twice_as_large_behind_the_same_shunt_is_nearly_the_same_bank(
    chemistry: str, kind: dict[str, Any], power: int
) -> None:
    """To a small bank the same shunt may be off by more, and that is all that may be seen of it.

    The charge moves by less than its own uncertainty, and a stage is told at another reading only
    where it hangs in the balance: one moment in a hundred at most.
    """
    small, large = house(chemistry), house(chemistry, amp_hours=200.0 * 2.0**power)
    moments = day(small, kind)
    one = glances(Engine(where(small)), readings(small, moments))
    other = glances(Engine(where(large)), readings(large, moments))
    stages = sum(a.stage is not b.stage for a, b in zip(one, other, strict=True))
    assert stages <= max(1, len(one) // 100)
    for a, b in zip(one, other, strict=True):
        assert a.soc is not None
        assert b.soc is not None
        assert a.soc_sd is not None
        assert b.soc_sd is not None
        assert abs(a.soc - b.soc) < 2.0 * max(a.soc_sd, b.soc_sd)
        assert 0.5 < a.soc_sd / b.soc_sd < 2.0


@holds(TWO, chemistry=chemistries, kind=days, nominal=st.sampled_from([24, 48]))
def test_12_volts_is_24_volts_is_48_volts(
    chemistry: str, kind: dict[str, Any], nominal: int
) -> None:
    small, large = house(chemistry), house(chemistry, nominal)
    moments = day(small, kind)
    one = glances(Engine(where(small)), readings(small, moments))
    other = glances(Engine(where(large)), readings(large, moments))
    alike(one, other, 1.0)


# Every property again, on many more days.


@pytest.mark.slow
@pytest.mark.parametrize("name", PROPERTIES)
def test_thoroughly(name: str) -> None:
    check, strategies = PROPERTIES[name]
    THOROUGH(given(**strategies)(check))()
