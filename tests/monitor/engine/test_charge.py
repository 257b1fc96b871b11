"""The charge filter by itself, on figures that can be worked out by hand."""

from __future__ import annotations

import json
from types import SimpleNamespace
from typing import Any

import pytest

from monitor.bank import Bank
from monitor.chemistries import CHEMISTRIES
from monitor.engine.charge import ChargeFilter
from monitor.engine.full import FullWatch, end_amps, expected_end_amps
from monitor.engine.resistance import Resistance
from monitor.engine.snapshot import Stage
from monitor.engine.state import dump, restore

STEP = 10.0


def bank(chemistry: str = "flooded", amp_hours: float = 200.0) -> Bank:
    return Bank("house", CHEMISTRIES[chemistry], 12, amp_hours)


class Hand:
    """Readings and stages by hand, in the shape the filter reads them."""

    def __init__(self, charge: ChargeFilter) -> None:
        self.charge = charge
        self.seconds = 0.0

    def give(
        self, volts: float, amps: float, stage: Stage, seconds: float = STEP, gap: bool = False
    ) -> bool:
        self.seconds += seconds
        signal: Any = SimpleNamespace(
            seconds=self.seconds,
            elapsed=seconds,
            gap=gap,
            volts=volts,
            amps=amps,
            celsius=25.0,
            celsius_seconds=self.seconds,
            load_step=False,
            step_volts=0.0,
            step_amps=0.0,
            noise_volts=0.01,
        )
        given: Any = SimpleNamespace(stage=stage, regulating=0.0)
        return self.charge.update(signal, given)

    def hours(self, hours: float, volts: float, amps: float, stage: Stage) -> None:
        for _ in range(int(hours * 3600 / STEP)):
            self.give(volts, amps, stage)


def test_rested_voltage_is_where_it_starts() -> None:
    """12.24 V at rest is half full by the BCI table, and the first figure is not called certain."""
    charge = ChargeFilter(bank())
    Hand(charge).give(12.24, 0.0, Stage.REST)
    assert charge.soc == pytest.approx(0.5, abs=0.02)
    assert 0.01 < charge.soc_sd < 0.3


@pytest.mark.parametrize("capacity", [100.0, 200.0, 400.0])
def test_amps_are_counted(capacity: float) -> None:
    """A twentieth of the capacity for two hours takes a tenth of the charge."""
    charge = ChargeFilter(bank("lfp", capacity))
    hand = Hand(charge)
    hand.give(13.2, 0.0, Stage.REST)
    charge.belief.forget(0, 0.6, 0.01)
    hand.hours(2.0, 13.1, -capacity / 20, Stage.DISCHARGE)
    assert charge.soc == pytest.approx(0.5, abs=0.012)


def test_a_gap_widens() -> None:
    charge = ChargeFilter(bank())
    hand = Hand(charge)
    hand.give(12.4, 0.0, Stage.REST)
    hand.hours(0.5, 12.4, -5.0, Stage.DISCHARGE)
    before = charge.soc_sd
    hand.give(12.4, -5.0, Stage.DISCHARGE, seconds=6 * 3600.0, gap=True)
    assert charge.soc_sd > before + 0.01


def test_an_early_end_leaves_some_to_go() -> None:
    """Float at 8 % of the capacity by a timer is not the full that a tail of 1 % is."""

    def after(amps: float) -> tuple[float, float]:
        charge = ChargeFilter(bank())
        hand = Hand(charge)
        hand.give(12.3, 0.0, Stage.REST)
        charge.belief.forget(0, 0.85, 0.10)
        hand.hours(0.3, 14.4, amps, Stage.ABSORPTION)
        assert any(hand.give(13.5, 0.5, Stage.FLOAT) for _ in range(12))
        return charge.soc, charge.soc_sd

    early, late = after(16.0), after(3.5)
    assert early[0] < late[0] - 0.01
    assert early[1] > late[1]


def test_full_needs_the_voltage_to_be_held() -> None:
    """A few amps near the set-point because the sun is low: the voltage sags, and that is not
    full; the same few amps at the held voltage for a minute are."""
    watch = FullWatch(bank())

    def look(volts: float, amps: float, n: int) -> bool:
        signal: Any = SimpleNamespace(seconds=STEP * n, elapsed=STEP, volts=volts, amps=amps)
        return watch.look(signal, Stage.ABSORPTION, 0.0)

    assert not any(look(14.4, 20.0, n) for n in range(60))
    assert not any(look(14.1, 2.0, n) for n in range(60, 72))
    assert any(look(14.4, 2.0, n) for n in range(200, 260))


def told(*spells: tuple[Stage, float, float, float]) -> FullWatch:
    """A 200 Ah bank's watch after spells of (stage, minutes, volts, amps); 3 A count as full."""
    watch = FullWatch(bank())
    seconds = 0.0
    for stage, minutes, volts, amps in spells:
        for _ in range(round(60.0 * minutes / STEP)):
            seconds += STEP
            signal: Any = SimpleNamespace(seconds=seconds, elapsed=STEP, volts=volts, amps=amps)
            watch.look(signal, stage, 0.0)
    return watch


HELD = (Stage.ABSORPTION, 30.0, 14.4, 4.5)


def test_the_source_s_own_end_is_told_by_the_current_before_it() -> None:
    """Noticed half a minute late, when nothing flows any more: it was still 4.5 amps."""
    watch = told(HELD, (Stage.ABSORPTION, 0.5, 14.2, 0.1), (Stage.FLOAT, 3.0, 13.6, 0.1))
    assert watch.done
    assert watch.source_amps == pytest.approx(4.5)
    assert watch.at_seconds == pytest.approx(30.5 * 60.0, abs=2.0 * STEP)
    assert watch.source_seconds == pytest.approx(30.5 * 60.0, abs=2.0 * STEP)


def test_equalize_after_absorption_tells_absorption_s_end() -> None:
    watch = told(HELD, (Stage.EQUALIZE, 2.0, 15.2, 12.0))
    assert watch.done
    assert watch.source_amps == pytest.approx(4.5)


def test_a_load_that_looks_like_float_ends_nothing() -> None:
    """The voltage falls under a load and passes float's: on the way down it is drawn from the bank,
    on the way up the source gives all it can."""
    down, up = (Stage.FLOAT, 3.0, 13.5, -30.0), (Stage.FLOAT, 3.0, 13.6, 60.0)
    assert not told(HELD, down, up).done
    assert not told(HELD, down, up, HELD).done


def test_a_source_that_was_lost_in_absorption_did_not_end_it() -> None:
    """Twelve amps flowed, far above where sources end; then nothing, while the voltage falls. Only
    a source that gives again shows that it floats."""
    early = (Stage.ABSORPTION, 30.0, 14.4, 12.0)
    nothing, little = (Stage.FLOAT, 10.0, 13.8, 0.0), (Stage.FLOAT, 2.0, 13.6, 1.5)
    assert not told(early, nothing).done
    assert told(early, nothing, little).source_amps == pytest.approx(12.0)


def test_below_the_current_of_the_last_end_it_was_the_time_that_ended_it() -> None:
    floats, again = (Stage.FLOAT, 60.0, 13.6, 0.5), (Stage.ABSORPTION, 20.0, 14.4, 4.0)
    watch = told(HELD, floats, again)
    assert watch.passed
    assert watch.seconds_left == pytest.approx(600.0, abs=2.0 * STEP)
    assert not told(HELD, floats, (Stage.ABSORPTION, 20.0, 14.4, 5.0)).passed
    assert told(HELD, floats, (Stage.ABSORPTION, 40.0, 14.4, 4.0)).seconds_left is None


def test_which_current_ends_a_charge() -> None:
    flooded = bank()
    assert end_amps(flooded) == pytest.approx(3.0)  # 1.5 % of 200 Ah, common practice
    assert expected_end_amps(flooded, seen=5.0) == 5.0
    assert end_amps(flooded) < expected_end_amps(flooded, seen=None) <= 4.0  # 2 % at most


def test_resistance_comes_from_load_steps_and_is_kept_at_25_degrees() -> None:
    """Steps of -40 A that take 0.2 V with them: 5 milliohm; the same bank in frost shows more."""
    warm, cold = Resistance(bank()), Resistance(bank())
    for _ in range(20):
        warm.step(-0.2, -40.0, 0.008, 25.0)
        cold.step(-0.2 * 1.175, -40.0, 0.008, 0.0)
    assert warm.ohms == pytest.approx(0.005)
    assert cold.ohms == pytest.approx(0.005)
    assert warm.sd < 0.001
    warm.step(+0.2, -40.0, 0.008, 25.0)  # volts that rise under a load are no resistance
    assert warm.steps == 20


def test_memory_is_whole() -> None:
    first = ChargeFilter(bank())
    hand = Hand(first)
    hand.give(12.3, 0.0, Stage.REST)
    hand.hours(1.0, 14.4, 20.0, Stage.ABSORPTION)
    second = ChargeFilter(bank())
    restore(second, json.loads(json.dumps(dump(first))))
    other = Hand(second)
    other.seconds = hand.seconds
    for each in (hand, other):
        each.hours(0.5, 14.4, 12.0, Stage.ABSORPTION)
    assert dump(first) == dump(second)
    assert second.view() == first.view()


def test_a_new_bank_starts_new() -> None:
    charge = ChargeFilter(bank())
    hand = Hand(charge)
    hand.give(12.3, 0.0, Stage.REST)
    hand.hours(2.0, 14.4, 10.0, Stage.ABSORPTION)
    charge.replaced()
    assert dump(charge) == dump(ChargeFilter(bank()))
