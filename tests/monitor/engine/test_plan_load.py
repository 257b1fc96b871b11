"""Volts under a load lie between nothing and what the bank stands at, whatever is not known."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.engine.cell import Circuit
from monitor.engine.plan import Verdict
from monitor.engine.plan_load import VOLTS_PER_CELL, load
from monitor.engine.snapshot import Estimate
from monitor.engine.unknowns import POLARISATION, SAG
from monitor.words.plans import load_lines
from tests.monitor.engine.outlooks import direction, known

CHEMISTRIES = ("flooded", "agm", "lfp")


@settings(max_examples=60, deadline=None)
@given(
    chemistry=st.sampled_from(CHEMISTRIES),
    soc=st.floats(0.0, 1.0),
    soc_sd=st.floats(0.0, 0.3),
    capacity_sd=st.floats(0.0, 0.3),
    sag_sd=st.floats(0.0, 0.5),
    polarisation=st.floats(-0.1, 0.2),
    ohms=st.floats(0.0005, 0.1),
    ohms_share=st.floats(0.0, 0.4),
    watts=st.floats(1.0, 20_000.0),
    minutes=st.floats(1.0, 600.0),
)
def test_a_load_only_pulls_down(
    chemistry: str,
    soc: float,
    soc_sd: float,
    capacity_sd: float,
    sag_sd: float,
    polarisation: float,
    ohms: float,
    ohms_share: float,
    watts: float,
    minutes: float,
) -> None:
    view = known(
        chemistry,
        soc,
        soc_sd=soc_sd,
        capacity_sd=capacity_sd,
        ohms=Estimate(ohms, ohms_share * ohms),
    )
    mean = list(view.mean)
    mean[POLARISATION] = polarisation
    view = known(
        chemistry,
        soc,
        soc_sd=soc_sd,
        capacity_sd=capacity_sd,
        ohms=Estimate(ohms, ohms_share * ohms),
        mean=tuple(mean),
        directions=(*view.directions, direction(SAG, sag_sd)),
    )
    told = load(view, watts, 60.0 * minutes)
    curve, cells = Circuit(view.bank.chemistry).curve, view.bank.cells
    full = min(1.0, soc + 2.0 * soc_sd)
    stands = cells * (curve.at(full) + max(0.0, polarisation) + 2.0 * VOLTS_PER_CELL)
    volts = told.lowest_volts
    assert volts is not None
    assert 0.0 <= volts.low <= volts.figure <= volts.high <= stands + 1e-9
    for part in volts:
        assert math.copysign(1.0, part) > 0.0


def test_a_collapse_promises_no_more_than_the_bank_stands_at() -> None:
    """An old bank of unknown charge and a kettle: it once told "at best 27.13 V" of 12."""
    view = known("lfp", 0.4, amp_hours=150.0, soc_sd=0.125, capacity_sd=0.12)
    told = load(view, 1200.0, 1800.0)
    assert told.lowest_volts is not None
    assert told.lowest_volts.figure < 5.0, "the test is about a collapse"
    assert 5.25 < told.lowest_volts.high < 12.9
    said = " ".join(load_lines("house", told))
    assert f"at best {told.lowest_volts.high:.2f} V" in said


def test_what_cannot_be_at_best_is_a_no() -> None:
    """Not even the volts as the load comes on reach the cut-off."""
    told = load(known("agm", 0.5, ohms=Estimate(0.05, 0.005)), 1500.0, 60.0)
    assert told.lowest_volts is not None
    assert told.lowest_volts.high < told.cut_off_volts
    assert told.possible is Verdict.NO


def test_an_easy_load_is_told_as_before() -> None:
    """100 W of 12.8 V through 5 mohm and 1 mohm of leads: 9 A take 55 mV at once."""
    view = known("lfp", 0.8, ohms=Estimate(0.005, 0.0))
    told = load(view, 100.0, 60.0)
    rest = view.bank.cells * Circuit(view.bank.chemistry).curve.at(0.8)
    assert told.lowest_volts is not None
    drawn = 100.0 / 0.88 / rest
    assert told.lowest_volts.figure == pytest.approx(rest - 0.006 * drawn, abs=0.02)
