"""Rounding a figure to its doubt, by the rule of JCGM 100:2008, 7.2.6."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.with_doubt import with_doubt


@pytest.mark.parametrize(
    ("figure", "doubt", "told"),
    [
        (14.8103, 0.048, ("14.81", "0.05")),
        (231.4, 12.0, ("231", "12")),
        (372.0, 18.0, ("372", "18")),
        (231.4, 24.0, ("230", "20")),
        (231.4, 97.0, ("230", "100")),
        (7.42, 0.62, ("7.4", "0.6")),
        (0.87123, 0.0131, ("0.871", "0.013")),
        (-0.0004, 0.02, ("0.00", "0.02")),
        (1234.0, 140.0, ("1230", "140")),
        (0.5, 0.096, ("0.50", "0.10")),
        (31.2, 0.96, ("31.2", "1.0")),
        (-2.8e-18, 0.03, ("0.00", "0.03")),
    ],
)
def test_a_figure_ends_where_its_doubt_does(
    figure: float, doubt: float, told: tuple[str, str]
) -> None:
    """JCGM 100:2008, 7.2.6: at most two digits of a doubt, and the figure to the same place."""
    assert with_doubt(figure, doubt) == told


def test_no_finer_than_it_was_read() -> None:
    assert with_doubt(14.4012, 0.004, 2) == ("14.40", "0.01")
    assert with_doubt(14.4012, 0.012, 2) == ("14.40", "0.01")


@given(st.floats(-1e4, 1e4), st.floats(1e-4, 1e3))
def test_rounding_hides_nothing(figure: float, doubt: float) -> None:
    shown, take = (float(text) for text in with_doubt(figure, doubt))
    assert abs(take - doubt) <= 0.25 * doubt  # at worst 2.5 told as 2
    assert abs(shown - figure) <= 0.5 * doubt  # never by more than what is unsure anyway
