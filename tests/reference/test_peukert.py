"""Peukert: published answers in their own form, and the rated-hour form that the engine uses.

Sources: two published worked examples in the form t = C / I^k, which treat the rated amp-hours as
a capacity at one ampere; a known textbook case in the rated-hour form; the two-rate exponent.
"""

from __future__ import annotations

import math

import pytest

from monitor.bank import rated_hour_discharge_hours


@pytest.mark.parametrize(
    ("amp_hours", "amps", "exponent", "hours"),
    [(100.0, 5.0, 1.2, 14.5), (250.0, 20.0, 1.3, 5.0886)],
    ids=["published example, 100 Ah", "published example, 250 Ah"],
)
def test_published_answers_are_a_one_ampere_capacity(
    amp_hours: float, amps: float, exponent: float, hours: float
) -> None:
    """The rated-hour form gives them too, once the rated hours are those of one ampere."""
    assert amp_hours / amps**exponent == pytest.approx(hours, abs=0.01)
    at_one_ampere = rated_hour_discharge_hours(amp_hours, amp_hours, amps, exponent)
    assert at_one_ampere == pytest.approx(hours, abs=0.01)
    # The trap: with the rating taken at 20 h, as on a label, the answer is another.
    assert rated_hour_discharge_hours(amp_hours, 20.0, amps, exponent) > 1.1 * hours


def test_rated_hour_form() -> None:
    """100 Ah at 20 h, 10 A, exponent 1.2: 8.706 h (known textbook case, worked out)."""
    assert rated_hour_discharge_hours(100.0, 20.0, 10.0, 1.2) == pytest.approx(8.706, abs=0.001)


def test_at_the_rated_current_the_rated_hours_come_out() -> None:
    assert rated_hour_discharge_hours(220.0, 20.0, 11.0, 1.25) == pytest.approx(20.0)


def test_two_rates_give_the_exponent() -> None:
    """20 h at 5 A and 1 h at 60 A: 1.2056 (worked out); and it predicts the second rate."""
    exponent = math.log(20.0 / 1.0) / math.log(60.0 / 5.0)
    assert exponent == pytest.approx(1.2056, abs=1e-4)
    assert rated_hour_discharge_hours(100.0, 20.0, 60.0, exponent) == pytest.approx(1.0)


def test_against_the_kinetic_model() -> None:
    """NREL-PySAM's kinetic lead-acid model gives 78.5 Ah at 18 A where the two-rate exponent of
    its own end points (100 Ah at 20 h, 60 Ah at 1 h) gives 76.9 Ah: within 3 %."""
    hours = rated_hour_discharge_hours(100.0, 20.0, 18.0, 1.2056)
    assert hours * 18.0 == pytest.approx(76.9, abs=0.1)
    assert hours * 18.0 == pytest.approx(78.5, rel=0.03)
