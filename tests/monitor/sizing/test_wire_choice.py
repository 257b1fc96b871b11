"""Choosing a conductor and its fuse: what an installer may rely on."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.bank import SetPoints
from monitor.chemistries import CHEMISTRIES
from monitor.sizing.conductors import conductor
from monitor.sizing.fuses import KINDS, RATINGS, fault_amps, fuse_amps, highest_volts, judge_kinds
from monitor.sizing.wire_choice import (
    CHARGING_DROP,
    MOST_PARALLEL,
    CableRun,
    candidates,
    judge,
    side_by_side,
    smallest,
)

runs = st.builds(
    CableRun,
    amps=st.floats(1.0, 400.0),
    one_way_metres=st.floats(0.2, 15.0),
    nominal_volts=st.sampled_from([12.0, 24.0, 48.0]),
    drop=st.sampled_from([0.015, 0.03, 0.10]),
    insulation=st.sampled_from([60, 75, 90, 105]),
    air_celsius=st.floats(-20.0, 50.0),
    engine_space=st.booleans(),
    bundled=st.integers(1, 8),
)
metric = st.booleans()


def copper(run: CableRun, metric: bool) -> tuple[int, float]:
    """(cables side by side, mm2 of each) of the choice; more than any where there is none."""
    choice = smallest(run, candidates(metric=metric))
    return (99, 0.0) if choice is None else (choice.parallel, choice.conductor.square_mm)


@given(runs, metric)
def test_a_choice_keeps_every_rule(run: CableRun, metric: bool) -> None:
    choice = smallest(run, candidates(metric=metric))
    if choice is None:
        thickest = judge(run, candidates(metric=metric)[-1], MOST_PARALLEL)
        assert not thickest.suits
        return
    assert choice.drop.volts <= run.drop * run.nominal_volts * 1.005 + 1e-12
    assert choice.fuse in RATINGS
    assert choice.fuse is not None
    assert 1.25 * run.amps <= choice.fuse <= choice.ampacity
    assert choice.drop.celsius <= run.insulation


@given(runs, metric, st.floats(1.0, 3.0))
def test_more_current_never_gives_less_copper(run: CableRun, metric: bool, times: float) -> None:
    assert copper(replace(run, amps=times * run.amps), metric) >= copper(run, metric)


@given(runs, metric, st.floats(1.0, 3.0))
def test_a_longer_run_never_gives_less_copper(run: CableRun, metric: bool, times: float) -> None:
    longer = replace(run, one_way_metres=times * run.one_way_metres)
    assert copper(longer, metric) >= copper(run, metric)


@given(runs, metric, st.floats(0.2, 1.0))
def test_a_tighter_drop_never_gives_less_copper(run: CableRun, metric: bool, part: float) -> None:
    assert copper(replace(run, drop=part * run.drop), metric) >= copper(run, metric)


@given(runs, metric)
def test_a_worse_place_never_gives_less_copper(run: CableRun, metric: bool) -> None:
    air = min(run.air_celsius, 20.0)
    best = replace(run, engine_space=False, air_celsius=air, bundled=2)
    assert copper(run, metric) >= copper(best, metric)


@given(runs)
def test_tinned_and_sae_copper_drop_more(run: CableRun) -> None:
    for name in ("18", "6", "4/0"):
        plain = judge(run, conductor(name)).drop.ohms
        assert judge(run, conductor(name, tinned=True)).drop.ohms > plain
        assert judge(run, conductor(name, sae=True)).drop.ohms > plain


@given(st.floats(0.1, 400.0), st.floats(0.1, 600.0))
def test_the_fuse_is_the_smallest_between_current_and_ampacity(amps: float, most: float) -> None:
    fuse = fuse_amps(amps, most)
    fitting = [rating for rating in RATINGS if 1.25 * amps <= rating <= most]
    assert fuse == (min(fitting) if fitting else None)


def test_side_by_side_shows_why_thinner_fails() -> None:
    run = CableRun(60.0, 5.5, 12.0)
    options = side_by_side(run, candidates(metric=False))
    assert [option.name for option in options] == ["1 AWG", "1/0 AWG", "2/0 AWG", "3/0 AWG"]
    assert [option.suits for option in options] == [False, False, True, True]
    assert options[0].why_not[0].startswith("drops ")
    assert run.drop == CHARGING_DROP


def test_where_nothing_will_do_the_thickest_are_shown() -> None:
    options = side_by_side(CableRun(900.0, 20.0, 12.0), candidates(metric=False))
    assert options[-1].conductor.name == "4/0"
    assert not any(option.suits for option in options)


def test_parallel_conductors_are_thick_and_share() -> None:
    run = CableRun(350.0, 2.0, 12.0, 0.03)
    choice = smallest(run, candidates(metric=False))
    assert choice is not None
    assert choice.parallel == 2
    assert choice.conductor.square_mm > 49.0
    assert choice.name.startswith("2 x ")


@pytest.mark.parametrize(("chemistry", "nominal", "volts"), [("lfp", 48, 58.4), ("lfp", 12, 14.6)])
def test_highest_voltage_of_lithium(chemistry: str, nominal: int, volts: float) -> None:
    assert highest_volts(CHEMISTRIES[chemistry], nominal) == pytest.approx(volts)


def test_highest_voltage_of_a_cold_flooded_bank() -> None:
    """Equalize, moved to the cold end of the clamp, as chargers do."""
    flooded = CHEMISTRIES["flooded"]
    assert highest_volts(flooded, 12) == pytest.approx(6 * 2.67 + 6 * 0.006 * 25)
    given = SetPoints(absorption=14.4, equalize=15.0, compensation_mv_per_celsius_per_cell=-4.0)
    assert highest_volts(flooded, 12, given) == pytest.approx(6 * 2.67 + 6 * 0.004 * 25)
    higher = SetPoints(equalize=16.5, compensation_mv_per_celsius_per_cell=-4.0)
    assert highest_volts(flooded, 12, higher) == pytest.approx(16.5 + 6 * 0.004 * 25)


def test_gentle_set_points_buy_no_weaker_fuse() -> None:
    gentle = SetPoints(absorption=56.0)
    assert highest_volts(CHEMISTRIES["lfp"], 48, gentle) == pytest.approx(58.4)


def test_a_58_volt_fuse_is_refused_for_16_cells_of_lithium() -> None:
    volts = highest_volts(CHEMISTRIES["lfp"], 48)
    verdicts = judge_kinds(150.0, volts, fault_amps(CHEMISTRIES["lfp"], 280.0))
    assert len(verdicts) == len(KINDS)
    for verdict in verdicts:
        assert verdict.suits == (
            verdict.kind.volts >= volts
            and verdict.kind.interrupts_amps >= 16_800.0
            and verdict.kind.least_amps <= 150.0 <= verdict.kind.most_amps
        )
    assert any(verdict.suits for verdict in verdicts)
    assert not any(v.suits for v in verdicts if v.kind.volts == 58.0)
