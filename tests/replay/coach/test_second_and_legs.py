"""A second bank behind a combiner, two legs with a neutral, and what sources take back."""

from __future__ import annotations

from dataclasses import replace

import pytest

from replay.coach.models import BankModel, SecondBankModel
from replay.coach.plant import Plant
from replay.coach.second import SecondBank
from replay.coach.stories import STORIES
from replay.coach.supply import split_legs

_MODEL = SecondBankModel(BankModel("starter", "flooded", 12, 80.0, soc=0.7))


def test_a_sound_neutral_keeps_the_legs_together_and_an_open_one_does_not() -> None:
    loads = (9.6, 72.0)
    one, other = split_legs(120.0, 0.1, 0.1, loads)
    assert 116.0 < one < 119.0
    assert 120.0 < other < 122.0
    one, other = split_legs(120.0, 0.1, 1e9, loads)
    # in series across 240 V, by their resistances
    assert one == pytest.approx(240.0 * 9.6 / 81.8, rel=1e-3)
    assert other == pytest.approx(240.0 * 72.0 / 81.8, rel=1e-3)


def test_equal_loads_leave_the_neutral_without_current() -> None:
    sound = split_legs(120.0, 0.1, 0.1, (20.0, 20.0))
    without = split_legs(120.0, 0.1, 1e6, (20.0, 20.0))
    assert sound == pytest.approx(without, abs=1e-3)


def test_a_combiner_closes_and_opens_with_the_bus() -> None:
    second = SecondBank(_MODEL, 12, 5.0)
    second.advance(12.6, 20.0)
    assert not second.closed
    assert abs(second.amps) < 1e-3
    for _ in range(60):
        second.advance(14.0, 20.0)
    assert second.closed
    assert second.amps > 1.0
    for _ in range(12):
        second.advance(12.5, 20.0)
    assert not second.closed
    assert abs(second.amps) < 1e-3


def test_one_that_never_opens_empties_it_into_the_other() -> None:
    second = SecondBank(_MODEL, 12, 5.0)
    second.welded = True
    for _ in range(12):
        second.advance(11.8, 20.0)
    assert second.amps < -5.0


def test_what_the_second_bank_takes_the_first_does_not_get() -> None:
    bench = replace(STORIES["bench"], second=_MODEL, hours=2.0)
    plant, plain = Plant(bench), Plant(replace(bench, second=None))
    for _ in range(12 * 60):
        plant.step()
        plain.step()
    assert plant.second is not None
    assert plant.second.amps > 0.5
    assert plant.amps < plain.amps - 0.4 * plant.second.amps


def test_a_source_that_leaks_draws_only_while_it_is_off() -> None:
    plant = Plant(replace(STORIES["bench"], loads=(), hours=2.0))
    plant.source("charger").leak_amps = 1.5
    plant.step()
    plant.step()
    assert plant.amps == pytest.approx(-1.5, abs=0.01)
