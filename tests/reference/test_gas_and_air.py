"""Water, hydrogen and ventilation against CODATA and IEC 62485-2.

The constants are frozen by `remake_codata` (scipy); the standard's figures are from secondary
copies.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from monitor.sizing.ventilation import (
    gas_milliamps,
    hydrogen_litres,
    ventilation,
    water_grams,
)

FROZEN = json.loads((Path(__file__).parent / "frozen" / "codata_gas.json").read_text())


def test_faraday_by_codata() -> None:
    assert water_grams(1.0) == pytest.approx(FROZEN["water_grams"], rel=1e-5)
    cold, warm = (
        FROZEN["hydrogen_litres_at_0_celsius"],
        FROZEN["hydrogen_litres_at_25_celsius"],
    )
    assert hydrogen_litres(1.0, celsius=0.0) == pytest.approx(cold, rel=1e-5)
    assert hydrogen_litres(1.0, celsius=25.0) == pytest.approx(warm, rel=1e-5)


def test_handbook_figures() -> None:
    """0.3361 g, 0.4181 and 0.4564 L (0.0161 cubic feet) for each Ah and cell (trade handbooks)."""
    assert water_grams(1.0) == pytest.approx(0.3361, abs=5e-5)
    assert hydrogen_litres(1.0, celsius=0.0) == pytest.approx(0.4181, abs=5e-5)
    assert hydrogen_litres(1.0) == pytest.approx(0.4564, abs=5e-5)
    assert hydrogen_litres(1.0) / 28.3168 == pytest.approx(0.0161, abs=5e-5)
    assert hydrogen_litres(10.0, 6) == pytest.approx(60.0 * hydrogen_litres(1.0))


def test_hydrogen_by_density() -> None:
    """0.08988 kg/m3 at 0 °C (CoolProp): 0.4184 L; a real gas, so within 0.1 % only."""
    grams = 2.01588 * 3600.0 / (2.0 * 96485.33212)
    assert hydrogen_litres(1.0, celsius=0.0) == pytest.approx(grams / 0.08988, rel=0.001)


@pytest.mark.parametrize(
    ("chemistry", "boost", "cubic_metres", "opening"),
    [
        ("flooded", False, 0.60, 16.8),
        ("flooded", True, 2.40, 67.2),
        ("agm", False, 0.12, 3.4),
        ("gel", True, 0.96, 26.9),
    ],
)
def test_iec_62485_2_example(
    chemistry: str, boost: bool, cubic_metres: float, opening: float
) -> None:
    """6 cells, 400 Ah: Q = 0.05 n Igas C / 1000, A = 28 Q."""
    found = ventilation(6, 400.0, gas_milliamps(chemistry, boost=boost))
    assert found.cubic_metres_per_hour == pytest.approx(cubic_metres, abs=0.005)
    assert found.opening_square_cm == pytest.approx(opening, abs=0.05)


def test_the_standard_s_factor_is_faraday_diluted() -> None:
    """0.05 = 24 x 0.42e-3 x 5; the first makes 4 %, the second is hydrogen of an Ah and cell."""
    assert abs(24.0 * 0.42e-3 * 5.0 - 0.05) < 0.0005
    assert hydrogen_litres(1.0, celsius=0.0) / 1000.0 == pytest.approx(0.42e-3, rel=0.01)
    per_hour = ventilation(1, 1000.0, 1.0)
    gas = hydrogen_litres(1.0) / 1000.0  # an amp-hour in that hour
    assert gas / per_hour.cubic_metres_per_hour < 0.04 / 4.0, "a quarter of the limit at most"
