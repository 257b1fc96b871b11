"""What must hold of any cable: physics that no table may break."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.sizing.ampacity import (
    ENGINE_SPACE,
    INSULATIONS,
    air_factor,
    ampacity,
    bundle_factor,
    conductor_celsius,
    table_amps,
)
from monitor.sizing.cable import expected_drop, loop_ohms, running_drop
from monitor.sizing.conductors import conductor, gauges, metric_sizes

EVERY = (*gauges(), *metric_sizes())
sizes = st.sampled_from(EVERY)
lengths = st.floats(0.1, 30.0)
currents = st.floats(0.1, 400.0)


@pytest.mark.parametrize("name", ["2/0", "AWG 2/0", "00", "2/0AWG", "awg2/0"])
def test_a_gauge_by_any_name(name: str) -> None:
    assert conductor(name).name == "2/0"


@pytest.mark.parametrize("name", ["50mm2", "50 mm2", "50mm²", "50.0mm2"])
def test_a_metric_size_by_any_name(name: str) -> None:
    assert conductor(name).name == "50mm2"


@pytest.mark.parametrize("name", ["5", "5/0", "51mm2", "mm2", "", "2/0mm2", "nan mm2"])
def test_no_such_conductor(name: str) -> None:
    with pytest.raises(KeyError):
        conductor(name)


@pytest.mark.parametrize("row", [gauges(), metric_sizes(), gauges(sae=True), gauges(tinned=True)])
@pytest.mark.parametrize("insulation", INSULATIONS)
def test_more_copper_carries_more_and_drops_less(row: tuple, insulation: int) -> None:
    for thin, thick in pairwise(row):
        assert thin.square_mm < thick.square_mm
        assert thin.ohms_per_metre > thick.ohms_per_metre
        assert table_amps(thin, insulation) <= table_amps(thick, insulation)
    assert table_amps(row[0], insulation) < table_amps(row[-1], insulation)


@pytest.mark.parametrize("each", EVERY, ids=lambda each: each.name)
def test_better_insulation_carries_no_less(each) -> None:
    amps = [table_amps(each, insulation) for insulation in INSULATIONS]
    assert amps == sorted(amps)


def test_worse_places_carry_less() -> None:
    size = conductor("2/0")
    assert ampacity(size) == 330.0
    assert ampacity(size, engine_space=True) == pytest.approx(280.5)
    assert ampacity(size, bundled=3) == pytest.approx(231.0)
    assert ampacity(size, air_celsius=-20.0) == 330.0
    assert ampacity(size, engine_space=True, air_celsius=70.0) < ampacity(size, engine_space=True)
    assert ampacity(size, 60, air_celsius=60.0) == 0.0
    assert [bundle_factor(n) for n in (1, 2, 3, 4, 6, 7, 24, 25)] == [
        1.0, 1.0, 0.7, 0.6, 0.6, 0.5, 0.5, 0.4,
    ]  # fmt: skip


@pytest.mark.parametrize("insulation", INSULATIONS[:-1])
def test_the_heat_balance_is_the_law_s_own(insulation: int) -> None:
    """Note 1 of Table 5 follows from the rise that an insulation stands, at 50 °C."""
    assert air_factor(insulation, 50.0) == pytest.approx(ENGINE_SPACE[insulation], abs=0.011)


@given(sizes, lengths, currents, st.floats(-20.0, 90.0))
def test_drop_is_ohm_s_law_both_ways(size, metres: float, amps: float, celsius: float) -> None:
    drop = expected_drop(size, metres, amps, celsius)
    assert drop.volts == pytest.approx(amps * loop_ohms(size, metres, celsius))
    assert drop.watts == pytest.approx(drop.volts * amps)
    assert drop.watts_per_metre * 2.0 * metres == pytest.approx(drop.watts)
    twice = expected_drop(size, 2.0 * metres, amps, celsius)
    assert twice.volts == pytest.approx(2.0 * drop.volts)
    assert expected_drop(size, metres, amps, celsius, parallel=2).volts == pytest.approx(
        drop.volts / 2.0
    )
    jointed = expected_drop(size, metres, amps, celsius, joint_ohms=0.001)
    assert jointed.volts == pytest.approx(drop.volts + 0.001 * amps)
    assert jointed.watts_per_metre == pytest.approx(drop.watts_per_metre)


@given(sizes, st.floats(0.0, 1.0), st.floats(-20.0, 60.0))
def test_copper_runs_between_the_air_and_what_it_stands(size, share: float, air: float) -> None:
    amps = share * ampacity(size, air_celsius=air)
    celsius = conductor_celsius(size, amps, air_celsius=air)
    assert air <= celsius <= 105.0 + 1e-9
    cold = expected_drop(size, 3.0, amps, air)
    assert running_drop(size, 3.0, amps, air_celsius=air).volts >= cold.volts - 1e-12


def test_at_its_ampacity_the_copper_is_as_hot_as_it_stands() -> None:
    size = conductor("6")
    for air in (30.0, 50.0, 70.0):
        most = ampacity(size, 90, air_celsius=air)
        assert conductor_celsius(size, most, 90, air_celsius=air) == pytest.approx(90.0)
    assert conductor_celsius(size, 50.0, bundled=4) > conductor_celsius(size, 50.0)
