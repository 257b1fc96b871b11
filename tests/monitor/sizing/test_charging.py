"""Chargers, cables in charging, inverters, alternators, set-points, banks: physics that holds."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.bank import Bank, SetPoints, compensated
from monitor.chemistries import CHEMISTRIES
from monitor.engine.charge_run import charge_run
from monitor.sizing.ac_input import ac_input, generator_volt_amps, nameplate, supply
from monitor.sizing.alternator import dc_dc_input, engine_charging
from monitor.sizing.bank_size import bank_size, layout
from monitor.sizing.charger import charge_current, charge_time, two_sources
from monitor.sizing.drop_in_charging import drop_in_charging
from monitor.sizing.inverter import cut_off_volts, inverter_draw, surge
from monitor.sizing.set_points import WALL_CELSIUS, set_points_at, wall_table
from monitor.sizing.ventilation import gas_milliamps, ventilation_by_current

AGM = Bank("house", CHEMISTRIES["agm"], 12, 400.0)
names = st.sampled_from(sorted(CHEMISTRIES))
few = settings(max_examples=25, deadline=None)


def bank(name: str, volts: int = 12, amp_hours: float = 300.0) -> Bank:
    return Bank("house", CHEMISTRIES[name], volts, amp_hours)


@few
@given(names, st.floats(0.05, 0.3), st.floats(0.2, 0.8), st.floats(0.0, 0.008))
def test_a_cable_lengthens_the_charge_and_starts_the_hold_early(
    name: str, rate: float, soc: float, ohms: float
) -> None:
    effect = drop_in_charging(bank(name), 300.0 * rate, ohms, soc, 25.0, 2.0)
    assert effect.hours is not None
    assert effect.ideal_hours is not None
    assert effect.hours >= effect.ideal_hours - 0.02, "no step of the run is finer"
    assert effect.held_soc is not None
    assert effect.ideal_held_soc is not None
    assert effect.held_soc <= effect.ideal_held_soc + 1e-9
    assert effect.timer_soc is not None
    assert effect.ideal_timer_soc is not None
    assert effect.timer_soc <= effect.ideal_timer_soc + 0.002


def test_no_cable_is_the_engine_s_own_forecast() -> None:
    engine = charge_run(AGM, 0.5, 80.0)
    assert drop_in_charging(AGM, 80.0, 0.0).hours == engine.hours_to_full
    assert charge_time(AGM, 80.0, 0.5).hours_to_full == engine.hours_to_full
    assert charge_time(AGM, 80.0, 0.5).soc_at_held == engine.soc_at_held


def test_a_drop_ends_a_timed_charge_early() -> None:
    """3 % of 12 V at 80 A: over two points are left out of the bank, every time."""
    effect = drop_in_charging(AGM, 80.0, 0.36 / 80.0, 0.5, 25.0, 2.0)
    assert effect.ideal_timer_soc is not None
    assert effect.timer_soc is not None
    assert effect.ideal_timer_soc - effect.timer_soc > 0.02
    assert effect.longer_hours is not None
    assert effect.longer_hours > 0.25


@few
@given(names, st.floats(0.05, 0.25), st.floats(0.2, 0.8), st.floats(1.05, 2.0))
def test_a_bigger_charger_is_never_slower(name: str, rate: float, soc: float, more: float) -> None:
    slow = charge_time(bank(name), 300.0 * rate, soc).hours_to_full
    fast = charge_time(bank(name), 300.0 * rate * more, soc).hours_to_full
    assert slow is not None
    assert fast is not None
    assert fast <= slow + 0.1  # a step of the run


def test_loads_come_off_the_top() -> None:
    with_loads, without = charge_time(AGM, 80.0, 0.5, loads_amps=10.0), charge_time(AGM, 70.0, 0.5)
    assert with_loads == without
    nothing = charge_time(AGM, 8.0, 0.5, loads_amps=8.0)
    assert nothing.hours_to_full is None
    assert nothing.amp_hours == 0.0


def test_a_timer_that_ends_a_charge_early_is_no_full_charge() -> None:
    """Full is the end-of-charge current; what the timer leaves is said beside it."""
    timed = replace(AGM, set_points=SetPoints(absorption_hours=1.0))
    patient = replace(AGM, set_points=SetPoints(absorption_hours=12.0))
    plain = charge_time(AGM, 80.0, 0.5)
    early = charge_time(timed, 80.0, 0.5)
    assert plain.timer_soc is None
    assert early.hours_to_full == plain.hours_to_full
    assert early.timer_soc is not None
    assert 0.8 < early.timer_soc < 0.97
    assert charge_time(patient, 80.0, 0.5).timer_soc is None


def test_two_sources_alike_are_one_big_one_and_unlike_are_slower() -> None:
    one = charge_time(AGM, 80.0, 0.5).hours_to_full
    alike = two_sources(AGM, (60.0, 14.4), (20.0, 14.4), 0.5).hours_to_full
    unlike = two_sources(AGM, (60.0, 14.4), (20.0, 14.0), 0.5).hours_to_full
    alone = charge_time(AGM, 60.0, 0.5).hours_to_full
    assert one is not None
    assert alike is not None
    assert unlike is not None
    assert alone is not None
    assert alike == pytest.approx(one, abs=0.25)
    assert one - 0.1 <= unlike <= alone + 0.1


def test_the_lower_of_two_fills_the_bank_where_the_higher_feeds_only_the_loads() -> None:
    """40 A at 14.4 V, 30 A at 14.2 V, 50 A of loads: no more than 20 A ever enter, at 14.2 V."""
    both = two_sources(AGM, (40.0, 14.4), (30.0, 14.2), 0.5, loads_amps=50.0)
    one = charge_time(AGM, 70.0, 0.5, loads_amps=50.0, volts=14.2)
    assert (both.hours_to_held, both.hours_to_full) == (one.hours_to_held, one.hours_to_full)
    assert both.amp_hours == pytest.approx(one.amp_hours)
    assert both.amp_hours > 100.0
    nothing = two_sources(AGM, (40.0, 14.4), (30.0, 14.2), 0.5, loads_amps=70.0)
    assert (nothing.hours_to_full, nothing.amp_hours) == (None, 0.0)


def test_a_set_point_decides_when_the_voltage_is_held() -> None:
    low, high = (charge_time(AGM, 80.0, 0.5, volts=volts) for volts in (14.1, 14.7))
    assert low.hours_to_held is not None
    assert high.hours_to_held is not None
    assert low.hours_to_held < high.hours_to_held


@pytest.mark.parametrize("name", sorted(CHEMISTRIES))
def test_charge_currents_are_in_order(name: str) -> None:
    wants = charge_current(bank(name))
    assert 0.0 < wants.least < wants.usual <= wants.most


@given(st.floats(100.0, 3000.0), st.floats(10.0, 50.0), st.floats(0.7, 0.95))
def test_an_inverter_draws_most_when_the_bank_is_lowest(
    watts: float, volts: float, efficiency: float
) -> None:
    draw = inverter_draw(watts, 2.0 * watts, volts, efficiency)
    assert draw.amps * volts * efficiency == pytest.approx(watts)
    assert draw.surge_amps == pytest.approx(2.0 * draw.amps)
    assert inverter_draw(watts, watts, 1.1 * volts, efficiency).amps < draw.amps


def test_a_surge_stops_a_weak_bank() -> None:
    weak, strong = bank("flooded", 12, 50.0), bank("flooded", 12, 800.0)
    assert cut_off_volts(weak) == pytest.approx(10.5)
    assert not surge(weak, 400.0, 0.001).holds
    assert surge(strong, 400.0, 0.001).holds
    assert surge(strong, 400.0, 0.002).inverter_volts < surge(strong, 400.0, 0.001).inverter_volts


@given(st.floats(5.0, 150.0), st.floats(0.5, 1.0))
def test_ac_power_balances(amps: float, factor: float) -> None:
    found = ac_input(14.4, amps, 120.0, 0.85, factor)
    assert found.watts * 0.85 == pytest.approx(14.4 * amps)
    assert found.volt_amps == pytest.approx(found.watts / factor)
    if found.breaker is not None:
        assert found.amps <= 0.8 * found.breaker + 1e-6
    plug = supply(30, found, amps, 13.5)
    assert plug.left_amps == pytest.approx(24.0 - found.amps)
    assert 0.0 <= plug.charger_dc_amps <= amps
    high = generator_volt_amps(found, 120.0, 0.0, 1500.0, 36.0)
    assert high > generator_volt_amps(found, 120.0) > found.volt_amps
    assert nameplate(high) >= high


def test_hot_idle_counts_not_the_nameplate() -> None:
    engine = engine_charging(120.0, 14.4)
    assert engine.spare_idle == pytest.approx(18.0)
    assert dc_dc_input(engine.dc_dc_amps, 14.4) == pytest.approx(engine.spare_idle)
    assert engine.dc_dc_amps < engine.dc_dc_cruise_amps < 120.0
    assert dc_dc_input(engine.dc_dc_cruise_amps, 14.4) <= engine.all_day_amps + 1e-9
    assert engine_charging(60.0, 14.4).dc_dc_amps == 0.0, "the vehicle takes all"
    assert engine_charging(120.0, 14.4, hot_idle=70.0).spare_idle == pytest.approx(40.0)


@pytest.mark.parametrize("name", sorted(CHEMISTRIES))
@pytest.mark.parametrize("volts", [12, 24, 48])
def test_wall_table(name: str, volts: int) -> None:
    kind = CHEMISTRIES[name]
    rows = wall_table(kind, volts)
    assert [row.celsius for row in rows] == list(WALL_CELSIUS)
    for warmer, row in zip(rows[1:], rows, strict=False):
        assert row.absorption >= warmer.absorption
        assert row.float_ is not None
        assert row.float_ < row.absorption
        assert (row.equalize is None) == (kind.equalize is None)
        assert row.clamped == (kind.lead and not 0.0 <= row.celsius <= 50.0)
    at_25 = next(row for row in rows if row.celsius == 25.0)
    assert at_25.absorption == pytest.approx(kind.absorption.typical * bank(name, volts).cells)


def test_set_points_of_the_owner_count() -> None:
    given = SetPoints(
        absorption=14.4, compensation_mv_per_celsius_per_cell=-4.0, compensation_celsius=(10, 40)
    )
    cold = set_points_at(CHEMISTRIES["flooded"], 12, -5.0, given)
    assert cold.absorption == pytest.approx(compensated(14.4, 10.0, -4.0, 6, (10, 40)))
    assert cold.clamped
    frost = set_points_at(CHEMISTRIES["lfp"], 12, -5.0)
    assert not frost.may_charge
    assert not frost.clamped


def test_air_for_what_cannot_turn_itself_down() -> None:
    assert ventilation_by_current(6, 10.0).cubic_metres_per_hour == pytest.approx(3.0)
    with pytest.raises(KeyError):
        gas_milliamps("lfp", boost=True)


@given(
    names, st.floats(5.0, 300.0), st.floats(0.5, 7.0), st.floats(0.0, 0.9), st.floats(-20.0, 45.0)
)
def test_a_bank_is_big_enough(
    name: str, daily: float, days: float, lowest: float, celsius: float
) -> None:
    kind = CHEMISTRIES[name]
    size = bank_size(kind, daily, days, lowest, celsius)
    assert size.amp_hours * (1.0 - lowest) >= daily * days * 1.25 - 1e-6
    assert bank_size(kind, daily, days, lowest, celsius - 10.0).amp_hours >= size.amp_hours - 1e-9
    short = bank_size(kind, daily, days, lowest, celsius, hours_of_use=2.0)
    assert short.amp_hours >= size.amp_hours - 1e-9


@pytest.mark.parametrize(
    ("name", "volts", "unit", "wanted", "series", "parallel"),
    [
        ("flooded", 12, (6.0, 225.0), 400.0, 2, 2),
        ("agm", 48, (12.0, 100.0), 100.0, 4, 1),
        ("lfp", 48, (3.2, 280.0), 280.0, 16, 1),
        ("lfp", 48, (12.8, 100.0), 150.0, 4, 2),
        ("lfp", 24, (12.0, 100.0), 100.0, 2, 1),
    ],
)
def test_layout(
    name: str, volts: int, unit: tuple[float, float], wanted: float, series: int, parallel: int
) -> None:
    made = layout(CHEMISTRIES[name], wanted, volts, *unit)
    assert made is not None
    assert (made.series, made.parallel) == (series, parallel)
    assert made.amp_hours >= wanted


def test_a_unit_that_does_not_divide() -> None:
    assert layout(CHEMISTRIES["agm"], 100.0, 12, 8.0, 100.0) is None
    assert layout(CHEMISTRIES["agm"], 100.0, 12, 24.0, 100.0) is None
