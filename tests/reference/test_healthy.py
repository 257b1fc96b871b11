"""Healthy coaches: nothing high is cried, and hardly anything else (a month: `make healthy`)."""

from __future__ import annotations

import pytest

from tests.reference.healthy import COACHES, DAYS, PERIOD, lived

#: One of them in the quick suite: what is cried by chance shows in a month (`make healthy`).
QUICK = "AGM, generator"


@pytest.mark.parametrize(
    "name",
    [pytest.param(each, marks=() if each == QUICK else pytest.mark.slow) for each in COACHES],
)
def test_two_days(name: str) -> None:
    month = lived(name, days=2.0, period=20.0)
    assert month.inputs > 8000
    assert month.high == 0, month.when
    assert month.a_day < 1.0, month.when


@pytest.mark.slow
@pytest.mark.parametrize("name", COACHES)
def test_a_month(name: str) -> None:
    month = lived(name, DAYS, PERIOD)
    assert month.high == 0, month.when
    assert month.a_day < 1.0, month.when
