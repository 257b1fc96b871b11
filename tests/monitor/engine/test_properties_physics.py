"""The physics that no belief may bend: charge counted, losses, gaps, cold, high rates, a full bank.

Each test would fail if one law were left out or turned round; `tests/seeded` does just that.
"""

from __future__ import annotations

import csv
import gzip
import itertools
import math

import pytest

from monitor.bank import Bank, SetPoints
from monitor.chemistries import CHEMISTRIES
from monitor.engine.engine import Engine
from monitor.engine.snapshot import EventKind, Glance, Stage
from tests.monitor.engine.captures import TRUTH, capture
from tests.monitor.engine.sites import bank, reading, site
from tests.monitor.engine.stories import Spell, readings, told

LEAD = sorted(name for name, chemistry in CHEMISTRIES.items() if chemistry.lead)
ALL = sorted(CHEMISTRIES)


def unset(chemistry: str) -> Bank:
    """A bank of 200 Ah whose set-points nobody told."""
    return bank(chemistry, set_points=SetPoints())


def seen(of: Bank, spells: list[Spell], period: float = 20.0, soc: float = 0.8) -> list[Glance]:
    engine = Engine(site(house=of, links=(("shunt", period),)))
    glances = []
    for each in readings(of, told(of.chemistry, spells, period=period, soc=soc)):
        engine.step(each)
        glances.append(engine.glance("house"))
    return glances


def charge(glance: Glance) -> float:
    assert glance.soc is not None
    return glance.soc


def uncertainty(glance: Glance) -> float:
    assert glance.soc_sd is not None
    return glance.soc_sd


# Counting.


def test_where_no_voltage_tells_charge_is_counted() -> None:
    """The long plateau of LFP: an hour to settle, then C/25 for five hours, out and in again."""
    spells = [Spell("load", 360.0, 0.04), Spell("charge", 300.0, 0.04)]
    glances = seen(unset("lfp"), spells, period=60.0, soc=0.6)
    hour, turn, end = charge(glances[60]), charge(glances[359]), charge(glances[-1])
    assert hour - turn == pytest.approx(0.2, abs=0.005)
    assert end - turn == pytest.approx(0.2, abs=0.005)


@pytest.mark.parametrize("chemistry", LEAD)
def test_a_load_empties_and_a_source_fills(chemistry: str) -> None:
    spells = [Spell("load", 360.0, 0.05), Spell("charge", 90.0, 0.1)]
    glances = seen(unset(chemistry), spells, period=60.0, soc=0.7)
    hour, turn, end = charge(glances[60]), charge(glances[359]), charge(glances[-1])
    assert 0.1 < hour - turn < 0.35
    assert 0.05 < end - turn < 0.25


@pytest.mark.parametrize(
    ("chemistry", "soc"), [("lfp", 0.4), ("flooded", 0.4), *((name, 0.88) for name in LEAD)]
)
def test_near_full_a_part_of_the_charge_is_lost(chemistry: str, soc: float) -> None:
    """Between two looks at the voltage charge is only counted: in lead, less than was sent."""
    of = unset(chemistry)
    engine = Engine(site(house=of, links=(("shunt", 10.0),)))
    before: Glance | None = None
    stored = sent = 0.0
    spells = [Spell("charge", 60.0, 0.05)]
    room = engine.banks[0].charge
    for each in readings(of, told(of.chemistry, spells, period=10.0, soc=soc)):
        engine.step(each)
        now = engine.glance("house")
        charging = now.stage in (Stage.BULK, Stage.ABSORPTION)
        # the voltage was not asked since the last reading
        if before is not None and charging and room._block_seconds > 10.0:
            assert now.amps is not None
            stored += charge(now) - charge(before)
            sent += (now.amps - room.offset_amps) * 10.0 / 3600.0 / room.capacity_ah
        before = now
    assert sent > 0.01
    if soc > 0.8:
        assert 0.85 < stored / sent < 0.97
    else:
        assert stored / sent == pytest.approx(1.0, abs=0.02)


# Gaps.


@pytest.mark.parametrize("chemistry", ALL)
@pytest.mark.parametrize("hours", [1.0, 6.0])
def test_a_gap_widens_by_what_could_have_happened_in_it(chemistry: str, hours: float) -> None:
    """C/50 at least may have flowed all the time (what is always on), unseen."""
    of = unset(chemistry)
    before, after = _around_a_gap(of, hours)
    grown = uncertainty(after) ** 2 - uncertainty(before) ** 2
    assert grown >= 0.8 * (0.01 * hours) ** 2


def _around_a_gap(of: Bank, hours: float) -> list[Glance]:
    spells = [Spell("load", 120.0, 0.05), Spell("silence", 60.0 * hours, 0.0)]
    moments = told(of.chemistry, [*spells, Spell("load", 1.0, 0.05)], period=20.0)
    engine = Engine(site(house=of, links=(("shunt", 20.0),)))
    glances: list[Glance] = []
    for each, last in itertools.pairwise([moments[0], *moments]):
        if last.seconds - each.seconds > 1000.0:
            glances.append(engine.glance("house"))
        engine.step(readings(of, [last])[0])
        if len(glances) == 1:
            glances.append(engine.glance("house"))
    return glances


# Full, offset.


def test_full_is_a_strong_hint_not_a_jump() -> None:
    """The first full of a flooded bank: a percent short, said with its uncertainty, and true."""
    _, where, given = capture("c01")
    engine = Engine(where)
    for each in given[:6500]:
        full = [event for event in engine.step(each) if event.name == "full"]
        if full:
            break
    else:
        raise AssertionError("never full")
    assert full[0].kind is EventKind.LEARNED
    glance = engine.glance("house")
    assert 0.95 < charge(glance) < 0.998
    assert 0.002 < uncertainty(glance) < 0.02
    with gzip.open(next(TRUTH.glob("c01*.csv.gz")), "rt", newline="") as text:
        rows = csv.DictReader(text)
        true = next(float(r["soc_true"]) for r in rows if float(r["t_s"]) >= glance.seconds)
    assert abs(charge(glance) - true) < 2.0 * uncertainty(glance)


def test_the_sensor_s_offset_is_learned_in_float() -> None:
    """A current reading that is 0.3 A too low, known to a few hundredths after a night in float."""
    about, where, given = capture("c12")
    assert "0.3" in json_words(about)
    engine = Engine(where)
    for each in given[:10_800]:
        engine.step(each)
    offset, sd, _ = engine.snapshot().banks[0].charge.sensor_offset_amps
    assert offset is not None
    assert sd is not None
    assert sd < 0.1
    assert abs(offset + 0.3) < 2.0 * sd


def json_words(about: dict[str, object]) -> str:
    return str(about["truth"])


# A source that comes back.


@pytest.mark.parametrize(
    ("chemistry", "told_of"),
    [("flooded", True), ("agm", True), ("lead-calcium", True), ("agm", False)],
)
def test_a_full_bank_is_floated_again_after_a_load(chemistry: str, told_of: bool) -> None:
    """A percent or two taken out of a bank in float is no new charge; half of it is."""
    kind = CHEMISTRIES[chemistry]
    points = SetPoints(absorption=6.0 * kind.absorption.typical, float_=6.0 * kind.float_.typical)
    of = bank(chemistry, set_points=points if told_of else SetPoints())
    spells = [Spell("charge", 300.0, 0.2), Spell("float", 60.0, 0.2)]
    spells += [Spell("load", 10.0, 0.1), Spell("float", 5.0, 0.2)]
    spells += [Spell("load", 300.0, 0.1), Spell("float", 5.0, 0.2)]
    engine = Engine(site(house=of, links=(("shunt", 15.0),)))
    changes = [
        (event.seconds / 60.0, event.name)
        for each in readings(of, told(kind, spells, period=15.0, soc=0.7))
        for event in engine.step(each)
        if event.kind is EventKind.STAGE and event.target == "house"
    ]
    assert [name for minutes, name in changes if 370.0 <= minutes < 375.0] == ["float"]
    assert [name for minutes, name in changes if minutes >= 675.0] == ["bulk"]


# Cold, and high rates.


@pytest.mark.parametrize(
    ("celsius", "absorption", "float_"),
    [
        (25.0, 14.4, 13.6),
        (5.0, 14.88, 14.08),
        (0.0, 15.0, 14.2),
        (-12.0, 15.0, 14.2),  # chargers clamp at 0 °C
        (45.0, 13.92, 13.12),
        (58.0, 13.8, 13.0),  # and at 50 °C
    ],
)
def test_set_points_move_with_the_bank_as_chargers_move_them(
    celsius: float, absorption: float, float_: float
) -> None:
    """-4 mV per °C and cell, six cells, told for 25 °C."""
    engine = Engine(site(links=(("shunt", 20.0),)))
    for second in range(0, 400, 20):
        engine.step(reading(float(second), 12.6, -5.0, celsius))
    view = engine.snapshot().banks[0].set_points
    assert view.absorption.figure == pytest.approx(absorption, abs=0.005)
    assert view.float_.figure == pytest.approx(float_, abs=0.005)


def test_a_cold_bank_held_at_its_compensated_set_point_is_in_absorption() -> None:
    """14.88 V at 5 °C is what a right charger holds, and no reason for an alarm."""
    engine = Engine(site(links=(("shunt", 20.0),)))
    said = set()
    for n in range(540):
        minutes = n / 3.0
        volts = min(14.88, 13.6 + 0.02 * minutes)
        amps = 30.0 if volts < 14.88 else 30.0 * math.exp(-(minutes - 64.0) / 60.0)
        events = engine.step(reading(20.0 * n, volts + 0.005 * (-1) ** n, amps, 5.0))
        said |= {event.name for event in events if event.kind is EventKind.CONDITION}
    view = engine.snapshot().banks[0].stage
    assert view.stage is Stage.ABSORPTION
    assert view.probability > 0.9
    assert said == set()


@pytest.mark.parametrize("chemistry", LEAD)
def test_a_high_rate_leaves_less_than_its_share_of_time(chemistry: str) -> None:
    """Peukert: three times the current leaves less than a third of the time."""
    of = unset(chemistry)
    left = []
    for rate in (0.1, 0.3):
        engine = Engine(site(house=of, links=(("shunt", 20.0),)))
        for each in readings(of, told(of.chemistry, [Spell("load", 20.0, rate)], period=20.0)):
            engine.step(each)
        view = engine.snapshot().banks[0]
        spare = charge(engine.glance("house")) - (of.lowest_soc or 0.0)
        assert view.forecast.left.seconds is not None
        assert spare > 0.02
        left.append(view.forecast.left.seconds / spare)
    exponent = math.log(left[0] / left[1]) / math.log(3.0)
    span = of.chemistry.peukert
    assert span.low - 0.02 <= exponent <= span.high + 0.02
