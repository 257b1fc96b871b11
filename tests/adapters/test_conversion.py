"""Raw figures to facts and back: units, signs, plausible ranges."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from adapters.conversion import Conversion, Doubt, Measurand
from adapters.reading import QUANTITIES, Quantity
from adapters.units import UNITS


@pytest.mark.parametrize(
    ("unit", "figure", "celsius"),
    # Fixed points: ice and steam (ITS-90, to 0.03 K), and the definitions of the scales.
    [
        ("°F", 32.0, 0.0),
        ("°F", 212.0, 100.0),
        ("F", 14.0, -10.0),
        ("K", 273.15, 0.0),
        ("kelvin", 298.15, 25.0),
        ("C", 21.5, 21.5),
    ],
)
def test_temperatures_from_other_scales(unit: str, figure: float, celsius: float) -> None:
    conversion = Conversion(Measurand(Quantity.SOURCE_CELSIUS), unit=UNITS["°C"][unit])
    assert conversion.fact_of_number(figure) == pytest.approx(celsius, abs=1e-9)


def test_scaling_leaves_no_noise_behind_the_last_digit() -> None:
    """What the device shows is what is kept, to the digit: every centivolt up to a 48 V bank."""
    conversion = Conversion(Measurand(Quantity.BANK_VOLTS), scale=0.01)
    for raw in range(200, 6500):
        assert conversion.fact_of_number(raw) == float(f"{raw // 100}.{raw % 100:02d}")


def test_a_percentage_becomes_a_fraction() -> None:
    conversion = Conversion(Measurand(Quantity.BANK_SOC), scale=0.5, unit=UNITS[""]["%"])
    assert conversion.fact_of_number(200) == 1.0
    assert conversion.fact_of_number(87) == pytest.approx(0.435)


def test_a_device_that_counts_discharge_as_positive_is_turned_round() -> None:
    conversion = Conversion(Measurand(Quantity.BANK_AMPS), unit=UNITS["A"]["mA"], turned=True)
    assert conversion.fact_of_number(4200) == pytest.approx(-4.2)
    assert conversion.raw_of_number(-4.2) == pytest.approx(4200)


@pytest.mark.parametrize("raw", [math.nan, math.inf, -math.inf, 1e300, 80.1, 1.9, -12.6])
def test_what_cannot_be_a_bank_voltage_is_doubted(raw: float) -> None:
    conversion = Conversion(Measurand(Quantity.BANK_VOLTS))
    with pytest.raises(Doubt):
        conversion.fact_of_number(raw)


def test_a_doubt_says_what_came_and_what_could_be() -> None:
    conversion = Conversion(Measurand(Quantity.BANK_VOLTS), scale=0.01)
    with pytest.raises(Doubt, match=r"655\.35 V is outside 2\.\.80 V"):
        conversion.fact_of_number(65535)


quick = settings(max_examples=80, deadline=None)

numbers = [q for q in Quantity if q is not Quantity.REPORTED_STAGE]


@quick
@given(
    quantity=st.sampled_from(numbers),
    data=st.data(),
    scale=st.sampled_from([1.0, 0.1, 0.01, 0.001, 2.5, -1.0, -0.1, 1e-6]),
    offset=st.sampled_from([0.0, -40.0, 273.15, -1600.0]),
    turned=st.booleans(),
)
def test_every_fact_survives_the_way_out_and_back(
    quantity: Quantity, data: st.DataObject, scale: float, offset: float, turned: bool
) -> None:
    bounds = QUANTITIES[quantity]
    unit = UNITS[bounds.unit][data.draw(st.sampled_from(sorted(UNITS[bounds.unit])))]
    fact = data.draw(st.floats(bounds.low, bounds.high))
    conversion = Conversion(Measurand(quantity), scale, offset, unit, turned)
    size = max(abs(fact), abs(offset * unit.factor), abs(unit.offset), 1.0)
    back = conversion.fact_of_number(conversion.raw_of_number(fact))
    assert back == pytest.approx(fact, abs=1e-9 * size)
