"""Rounding a figure to its doubt, by the rule of JCGM 100:2008, 7.2.6, with its own examples."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.with_doubt import with_doubt


@pytest.mark.parametrize(
    ("figure", "doubt", "expected"),
    [
        # JCGM 100:2008, 7.2.6: 10.05762 ohm with u = 27 mohm is stated as 10.058 with 0.028; one
        # digit of it is enough for a person, and gives 10.06 with 0.03.
        (10.05762, 0.027, ("10.06", "0.03")),
        (14.8103, 0.048, ("14.81", "0.05")),
        (12.7, 0.13, ("12.70", "0.13")),
        (199.6, 7.7, ("200", "8")),
        (-2.8e-18, 0.03, ("0.00", "0.03")),
        (0.5, 0.096, ("0.5", "0.1")),
        (31.2, 0.96, ("31", "1")),
        (101.3, 14.0, ("101", "14")),
    ],
)
def test_worked_examples(figure: float, doubt: float, expected: tuple[str, str]) -> None:
    assert with_doubt(figure, doubt) == expected


@given(st.floats(-1e4, 1e4), st.floats(1e-4, 1e3))
def test_rounding_hides_nothing(figure: float, doubt: float) -> None:
    shown, take = (float(text) for text in with_doubt(figure, doubt))
    assert abs(take - doubt) <= 0.25 * doubt  # at worst 2.5 told as 2
    assert abs(shown - figure) <= 0.5 * doubt  # never by more than what is unsure anyway
