"""Every fault in the table shows where its row says, and not before it begins."""

from __future__ import annotations

import functools
from collections.abc import Iterator
from dataclasses import replace

import pytest

from adapters.reading import Input, LinkState, Quantity, Reading, Tick
from replay.coach.faults import FAULTS, Fault
from replay.coach.scenario import Scenario
from replay.coach.simulate import simulate
from replay.coach.stories import STORIES, with_only
from replay.coach.truth import Truth

#: How far the quantity must move at its most (mean of the largest twentieth), in its own unit.
#: Noise is the same in both runs, so all that moves is the fault's doing, or a step of rounding.
SEEN = {
    Quantity.BANK_VOLTS: 0.05,
    Quantity.BANK_AMPS: 0.4,
    Quantity.BANK_CELSIUS: 1.5,
    Quantity.SOURCE_VOLTS: 0.1,
    Quantity.SOURCE_AMPS: 2.0,
    Quantity.UPPER_HALF_VOLTS: 0.1,
    Quantity.HIGHEST_CELL_VOLTS: 0.02,
    Quantity.CHARGE_PERMITTED: 0.9,
    Quantity.DISCHARGE_PERMITTED: 0.9,
    Quantity.AC_VOLTS: 5.0,
    Quantity.AC_HERTZ: 1.0,
    Quantity.AC_POWER_FACTOR: 0.05,
}


#: Hours from onset until it must show; slow ones have longer.
HOURS = 2.0
SLOW = {
    "thermal_runaway": 7.0,
    "device_silent": 3.5,
    "joint_resistance": 9.0,
    "absorption_never_ends": 7.0,
    "float_missing": 7.0,
    "report_disagrees": 3.0,
    "float_high": 7.0,
    "float_low": 7.0,
    "halves_drift": 6.0,
    "cells_drift": 4.5,
}


def inputs_of(scenario: Scenario) -> list[Input]:
    return [value for inputs, _ in simulate(scenario) for value in inputs]


@functools.cache
def healthy_inputs(story: str) -> list[Input]:
    """The story without a fault, as long as any of its faults needs."""
    hours = max(
        f.onset_hours + SLOW.get(f.name, HOURS) for f in FAULTS.values() if f.story == story
    )
    return inputs_of(replace(STORIES[story], faults=(), hours=hours))


def figures(inputs: list[Input], quantity: Quantity) -> dict[tuple[float, str], float | str]:
    return {
        (value.seconds, channel.owner): figure
        for value in inputs
        if isinstance(value, Reading)
        for channel, figure in value.values
        if channel.quantity is quantity
    }


@pytest.mark.parametrize("fault", FAULTS.values(), ids=FAULTS)
def test_fault_shows_where_it_says(fault):
    hours = fault.onset_hours + SLOW.get(fault.name, HOURS)
    ill = inputs_of(with_only(fault.name).with_hours(hours))
    healthy = [i for i in healthy_inputs(fault.story) if i.seconds < ill[-1].seconds + 0.001]
    onset = fault.onset_hours * 3600.0
    assert [i for i in ill if i.seconds < onset] == [i for i in healthy if i.seconds < onset]
    assert ill != healthy
    if fault.shows == "link":
        downs = [i for i in ill if isinstance(i, LinkState) and not i.up]
        assert downs
        assert any(isinstance(i, LinkState) and i.up and i.seconds > downs[0].seconds for i in ill)
    elif fault.shows == "clock":
        assert len([i for i in ill if isinstance(i, Tick)]) == 2
    else:
        shows_in_figures(fault, ill, healthy, onset)


def shows_in_figures(fault: Fault, ill: list[Input], healthy: list[Input], onset: float) -> None:
    quantity = Quantity(fault.shows)
    there, usual = figures(ill, quantity), figures(healthy, quantity)
    after = [key for key in usual if key[0] >= onset]
    assert after
    both = [key for key in after if key in there]
    if len(both) < 0.8 * len(after):  # the figure itself is gone
        return
    pairs = [(there[key], usual[key]) for key in both]
    if quantity is Quantity.REPORTED_STAGE:
        assert sum(a != b for a, b in pairs) > 0.02 * len(pairs)
        return
    moved = sorted((abs(float(a) - float(b)) for a, b in pairs), reverse=True)
    most = moved[: max(len(moved) // 20, 1)]
    assert sum(most) / len(most) > SEEN[quantity]


def truths(name: str, hours: float) -> Iterator[Truth]:
    for _, truth in simulate(with_only(name).with_hours(hours)):
        yield truth


def test_reversed_shunt_reads_the_other_sign():
    for inputs, truth in simulate(with_only("shunt_reversed").with_hours(2.0)):
        for (_, owner), amps in figures(list(inputs), Quantity.BANK_AMPS).items():
            assert owner == "house"
            assert float(amps) == pytest.approx(-truth.amps, abs=0.4)


def test_stuck_temperature_is_one_figure_while_the_bank_warms():
    story = with_only("temperature_stuck").with_hours(8.0)
    onset = FAULTS["temperature_stuck"].onset_hours * 3600.0
    shown = figures(inputs_of(story), Quantity.BANK_CELSIUS)
    assert len({figure for (at, _), figure in shown.items() if at > onset + 60.0}) == 1
    true = [t.celsius for t in truths("temperature_stuck", 8.0) if t.seconds > onset]
    assert max(true) - min(true) > 1.0


def test_runaway_raises_current_at_held_volts_with_temperature():
    onset = FAULTS["thermal_runaway"].onset_hours * 3600.0
    found = [t for t in truths("thermal_runaway", 12.0) if t.seconds > onset]
    held = [t for t in found if t.stage == "absorption"]
    least = min(held, key=lambda t: t.amps)
    later = [t for t in held if t.seconds > least.seconds]
    assert later[-1].amps > 3 * least.amps
    assert later[-1].celsius > least.celsius + 10.0
    assert max(t.celsius for t in found) < 106.0


def test_joint_grows_between_source_and_posts():
    lost: dict[int, list[float]] = {}
    for inputs, truth in simulate(with_only("joint_resistance").with_hours(14.0)):
        amps = truth.source_amps[0]
        for (_, owner), volts in figures(list(inputs), Quantity.SOURCE_VOLTS).items():
            if owner == "shore" and amps > 3.0:
                lost.setdefault(int(truth.seconds // 3600), []).append(
                    (float(volts) - truth.volts) / amps * 1e3
                )
    milliohms = {hour: sum(some) / len(some) for hour, some in lost.items()}
    assert milliohms[0] == pytest.approx(3.7, abs=1.0)
    assert milliohms[12] > 14.0


def test_source_around_the_shunt_is_not_counted():
    for inputs, truth in simulate(with_only("source_around_shunt").with_hours(1.5)):
        for amps in figures(list(inputs), Quantity.BANK_AMPS).values():
            assert float(amps) == pytest.approx(-truth.load_amps, abs=0.4)


def test_charged_below_zero_is_charge_below_zero():
    cold = [t for t in truths("charged_below_zero", 7.0) if t.celsius < 0.0]
    assert max(t.amps for t in cold) > 10.0


def test_open_charge_side_stops_charge_and_is_not_rest_of_a_full_bank():
    onset = FAULTS["charge_side_opens"].onset_hours * 3600.0
    found = [t for t in truths("charge_side_opens", 7.0) if t.seconds > onset]
    shut = [t for t in found if not t.charge_closed]
    assert 1.9 < len(shut) * 5 / 3600 < 2.2
    assert max(t.amps for t in shut[1:]) <= 0.0
    assert {t.stage for t in shut} <= {"rest", "discharge"}
    assert found[-1].charge_closed


def test_open_discharge_side_puts_the_lights_out():
    onset = FAULTS["discharge_side_opens"].onset_hours * 3600.0
    shut = [t for t in truths("discharge_side_opens", 1.6) if not t.discharge_closed]
    assert shut
    assert min(t.amps for t in shut[1:]) >= 0.0
    # Only what the sun can carry still runs; at dawn that is nothing at all.
    assert all(t.load_amps <= sum(t.source_amps) + 0.05 for t in shut[3:])
    assert any(t.load_amps == 0.0 for t in shut[3:])
    assert shut[0].seconds >= onset


def test_absorption_never_ends_holds_for_more_than_ten_hours():
    held = sum(t.source_stages[0] == "absorption" for t in truths("absorption_never_ends", 14.0))
    assert held * 5 / 3600 > 10.0


def test_equalize_never_ends_gasses_for_hours():
    held = [t for t in truths("equalize_never_ends", 12.0) if t.stage == "equalize"]
    assert len(held) * 5 / 3600 > 5.0


def test_words_and_names_are_fit_to_be_shown():
    for fault in FAULTS.values():
        assert fault.name.replace("_", "").isalpha()
        assert 10 < len(fault.words) < 80
        assert not fault.words.endswith(".")
        assert fault.story in STORIES
        assert fault.onset_hours < STORIES[fault.story].hours
