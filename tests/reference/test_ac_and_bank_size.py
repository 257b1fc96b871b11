"""The AC side and the size of a bank against published forms and figures."""

from __future__ import annotations

import pytest

from monitor.chemistries import CHEMISTRIES
from monitor.sizing.ac_input import ac_input, breaker_for, generator_share, input_amps
from monitor.sizing.bank_size import LEAD_FACTORS, temperature_factor
from monitor.sizing.charger import rule_amps

FLOODED, LFP = CHEMISTRIES["flooded"], CHEMISTRIES["lfp"]


@pytest.mark.parametrize(
    ("dc_volts", "dc_amps", "ac_volts", "factor", "amps"),
    [
        (14.4, 60.0, 120.0, 0.70, 12.10),
        (14.4, 60.0, 120.0, 0.99, 8.56),
        (14.4, 75.0, 120.0, 0.70, 15.13),
        (14.4, 75.0, 120.0, 0.99, 10.70),
        (14.4, 100.0, 230.0, 0.70, 10.52),
        (14.4, 100.0, 230.0, 0.99, 7.44),
    ],
)
def test_charger_input(
    dc_volts: float, dc_amps: float, ac_volts: float, factor: float, amps: float
) -> None:
    """I = Vdc Idc / (Vac eff PF), efficiency 0.85 (form of a rectifier sizing note)."""
    assert input_amps(dc_volts, dc_amps, ac_volts, 0.85, factor) == pytest.approx(amps, abs=0.006)


@pytest.mark.parametrize(("breaker", "amps"), [(15, 12.0), (20, 16.0), (30, 24.0), (50, 40.0)])
def test_nec_continuous_load(breaker: int, amps: float) -> None:
    """80 % of the breaker for three hours or more (NEC 210.20(A))."""
    assert breaker_for(amps, 120.0) == breaker
    assert breaker_for(amps + 0.01, 120.0) != breaker


def test_60_amps_at_a_low_power_factor_just_break_a_15_amp_circuit() -> None:
    assert ac_input(14.4, 60.0, 120.0, 0.85, 0.70).breaker == 20
    assert ac_input(14.4, 60.0, 120.0, 0.85, 0.99).breaker == 15


def test_generator_loses_by_altitude_and_heat() -> None:
    """3.5 % each 300 m, 1 % each 5.5 °C above 25 (common practice)."""
    assert generator_share(300.0, 25.0) == pytest.approx(0.965)
    assert generator_share(0.0, 36.0) == pytest.approx(0.98)
    assert generator_share(0.0, -10.0) == 1.0


def published_fit(celsius: float) -> float:
    """A published cubic through IEEE 485's temperature factors."""
    x = celsius / 100.0
    return 1.405 - 2.4941 * x + 4.1916 * x**2 - 2.8117 * x**3


@pytest.mark.parametrize(("celsius", "factor"), LEAD_FACTORS)
def test_ieee_485_factors(celsius: float, factor: float) -> None:
    """The table is from memory, so the published fit has to confirm it."""
    assert temperature_factor(FLOODED, celsius) == pytest.approx(factor)
    assert factor == pytest.approx(published_fit(celsius), abs=0.012)


@pytest.mark.parametrize("celsius", [0.0, 7.0, 18.0, 28.0, 45.0])
def test_ieee_485_between_its_rows(celsius: float) -> None:
    assert temperature_factor(FLOODED, celsius) == pytest.approx(published_fit(celsius), abs=0.02)


@pytest.mark.parametrize(
    ("celsius", "share", "tolerance"),
    [(-8.7, 0.620, 0.06), (0.8, 0.721, 0.04), (10.3, 0.823, 0.03), (24.6, 0.978, 0.03)],
)
def test_against_a_battery_model(celsius: float, share: float, tolerance: float) -> None:
    """NREL-PySAM's default lead-acid battery: usable share by temperature, of that at 25 °C."""
    assert 0.98 / temperature_factor(FLOODED, celsius) == pytest.approx(share, abs=tolerance)


@pytest.mark.parametrize(
    ("celsius", "share"), [(-20.0, 0.723), (-10.0, 0.818), (0.0, 0.888), (10.0, 0.930)]
)
def test_lfp_in_the_cold(celsius: float, share: float) -> None:
    """NREL-PySAM's LFP battery, against its own share at 25 °C (0.971)."""
    assert 1.0 / temperature_factor(LFP, celsius) == pytest.approx(share / 0.971, abs=0.002)


def test_ieee_946_form() -> None:
    """A = 1.1 C / H + L: 200 Ah in 10 h with 5 A of loads: 27 A (form of IEEE 946)."""
    assert rule_amps(200.0, 10.0, 5.0) == pytest.approx(27.0)
