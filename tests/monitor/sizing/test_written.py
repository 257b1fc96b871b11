"""What people write: every unit they have, and nothing that could be meant two ways."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.sizing import written
from monitor.sizing.written import Unreadable


@pytest.mark.parametrize(
    ("parse", "text", "figure"),
    [
        (written.length, "18ft", 5.4864),
        (written.length, "18 ft", 5.4864),
        (written.length, "18'", 5.4864),
        (written.length, "5.5m", 5.5),
        (written.length, "5.5 M", 5.5),
        (written.length, "40in", 1.016),
        (written.length, "350cm", 3.5),
        (written.amps, "60", 60.0),
        (written.amps, "60A", 60.0),
        (written.amps, " 7.5 a ", 7.5),
        (written.fault, "6kA", 6000.0),
        (written.watts, "1.2kW", 1200.0),
        (written.hours, "90min", 1.5),
        (written.fraction, "85%", 0.85),
        (written.fraction, "0.85", 0.85),
        (written.drop, "1.5%", 0.015),
        (written.altitude, "5000ft", 1524.0),
        (written.charge, "0", 0.0),
        (written.celsius, "77F", 25.0),
        (written.celsius, "-40F", -40.0),
        (written.celsius, "-5C", -5.0),
        (written.celsius, "25 °C", 25.0),
        (written.insulation, "221F", 105),
        (written.insulation, "105C", 105),
        (written.daily_use, "1.5kWh", (1500.0, "Wh")),
        (written.daily_use, "120 Ah", (120.0, "Ah")),
        (written.battery, "6V225Ah", (6.0, 225.0)),
        (written.battery, "12.8 V 100 Ah", (12.8, 100.0)),
    ],
)
def test_read(parse, text: str, figure: object) -> None:
    assert (
        parse(text) == pytest.approx(figure)
        if not isinstance(figure, tuple)
        else (parse(text) == figure)
    )


@pytest.mark.parametrize(
    ("parse", "text"),
    [
        (written.length, "18"),
        (written.length, "18ft 6in"),
        (written.length, "18feet m"),
        (written.length, "-3m"),
        (written.length, "0m"),
        (written.length, "1_0m"),
        (written.length, "١٨m"),
        (written.length, "1,5m"),
        (written.length, "inf m"),
        (written.amps, "6kA"),
        (written.amps, "1e2"),
        (written.amps, ""),
        (written.fault, "6000"),
        (written.fraction, "85"),
        (written.fraction, "0"),
        (written.drop, "0.015"),
        (written.celsius, "40"),
        (written.celsius, "40K"),
        (written.celsius, "nanC"),
        (written.insulation, "100C"),
        (written.insulation, "105"),
        (written.daily_use, "0Ah"),
        (written.daily_use, "1.5"),
        (written.battery, "225Ah"),
        (written.battery, "0V225Ah"),
        (written.wire, "5/0"),
        (written.whole("a count", 1, 9), "1.0"),
        (written.whole("a count", 1, 9), "10"),
    ],
)
def test_refused_in_one_line(parse, text: str) -> None:
    with pytest.raises(Unreadable, match=r"^expected [^\n]+; found [^\n]+$"):
        parse(text)


@given(st.floats(0.01, 98.0))
def test_feet_are_metres(feet: float) -> None:
    assert written.length(f"{feet:.4f}ft") == pytest.approx(feet * 0.3048, rel=1e-2, abs=1e-4)


@given(st.floats(-39.0, 89.0))
def test_fahrenheit_is_celsius(celsius: float) -> None:
    assert written.celsius(f"{1.8 * celsius + 32:.6f}F") == pytest.approx(celsius, abs=1e-5)


@given(st.text(max_size=12))
def test_no_text_is_more_than_a_figure_or_one_line(text: str) -> None:
    for parse in (written.length, written.celsius, written.battery, written.daily_use):
        try:
            parse(text)
        except Unreadable as refused:
            assert_one_line(refused)


def assert_one_line(refused: Unreadable) -> None:
    assert "\n" not in str(refused)
