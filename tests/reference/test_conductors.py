"""Conductors against NEC Chapter 9 Table 8, IEC 60228 and 33 CFR 183.425.

NEC and IEC rows are from secondary copies of the paid standards; the CFR is public law. Several web
copies give 3.07, 1.93, 1.21, 0.764 for 14 to 8 AWG as "stranded": those are the solid rows.
"""

from __future__ import annotations

import pytest

from monitor.sizing.ampacity import ISO_10133, TABLE_5, ampacity, table_amps
from monitor.sizing.conductors import (
    CLASS_5,
    COPPER_SIEMENS,
    STRANDING,
    conductor,
    copper_factor,
    gauge_square_mm,
    gauges,
)

METRES_PER_KFT = 304.8

#: AWG: mm2, circular mils, ohm/kFT at 75 °C (NEC Chapter 9 Table 8, stranded, uncoated copper).
TABLE_8 = {
    "18": (0.82, 1_620, 7.95),
    "16": (1.31, 2_580, 4.99),
    "14": (2.08, 4_110, 3.14),
    "12": (3.31, 6_530, 1.98),
    "10": (5.26, 10_380, 1.24),
    "8": (8.37, 16_510, 0.778),
    "6": (13.30, 26_240, 0.491),
    "4": (21.15, 41_740, 0.308),
    "3": (26.67, 52_620, 0.245),
    "2": (33.63, 66_360, 0.194),
    "1": (42.41, 83_690, 0.154),
    "1/0": (53.48, 105_600, 0.122),
    "2/0": (67.43, 133_100, 0.0967),
    "3/0": (85.03, 167_800, 0.0766),
    "4/0": (107.22, 211_600, 0.0608),
}

#: mm2: greatest ohm/km at 20 °C, plain and tinned (IEC 60228, class 5).
IEC_60228 = {
    0.75: (26.0, 26.7), 1: (19.5, 20.0), 1.5: (13.3, 13.7), 2.5: (7.98, 8.21), 4: (4.95, 5.09),
    6: (3.30, 3.39), 10: (1.91, 1.95), 16: (1.21, 1.24), 25: (0.780, 0.795), 35: (0.554, 0.565),
    50: (0.386, 0.393), 70: (0.272, 0.277), 95: (0.206, 0.210), 120: (0.161, 0.164),
}  # fmt: skip

#: AWG: amps by insulation of 60, 75, 90 and 105 °C (33 CFR 183.425 Table 5).
CFR = {
    "18": (10, 10, 20, 20), "16": (15, 15, 25, 25), "14": (20, 20, 30, 35),
    "12": (25, 25, 40, 45), "10": (40, 40, 55, 60), "8": (55, 65, 70, 80),
    "6": (80, 95, 100, 120), "4": (105, 125, 135, 160), "3": (120, 145, 155, 180),
    "2": (140, 170, 180, 210), "1": (165, 195, 210, 245), "1/0": (195, 230, 245, 285),
    "2/0": (225, 265, 285, 330), "3/0": (260, 310, 330, 385), "4/0": (300, 360, 385, 445),
}  # fmt: skip

#: AWG: amps in an engine space, 105 °C insulation (a marine dealer's copy of note 1).
IN_ENGINE_SPACE = {
    "18": 17, "16": 21, "14": 30, "12": 38, "10": 51, "8": 68, "6": 102, "4": 136, "3": 153,
    "2": 178, "1": 208, "1/0": 242, "2/0": 280, "3/0": 327, "4/0": 378,
}  # fmt: skip


@pytest.mark.parametrize("name", TABLE_8)
def test_nec_table_8(name: str) -> None:
    square_mm, circular_mils, ohms_per_kft = TABLE_8[name]
    size = conductor(name)
    at_75 = size.ohms_per_metre * copper_factor(75.0) * METRES_PER_KFT
    assert at_75 == pytest.approx(ohms_per_kft, rel=0.005)
    assert size.square_mm == pytest.approx(square_mm, rel=0.005)
    assert size.circular_mils == pytest.approx(circular_mils, rel=0.003)


@pytest.mark.parametrize("name", TABLE_8)
def test_geometry_is_within_the_stranding_factor(name: str) -> None:
    """Solid copper of that area is 1.8 to 2.5 % below every row; one factor stands for all."""
    numbers = dict(zip(TABLE_8, (18, 16, 14, 12, 10, 8, 6, 4, 3, 2, 1, 0, -1, -2, -3), strict=True))
    solid = copper_factor(75.0) / (COPPER_SIEMENS * gauge_square_mm(numbers[name]) * 1e-6)
    ratio = TABLE_8[name][2] / (solid * METRES_PER_KFT)
    assert 1.017 <= ratio <= 1.026
    assert abs(STRANDING - ratio) < 0.005


@pytest.mark.parametrize("celsius", [0.0, 20.0, 60.0, 90.0])
def test_nec_temperature_rule(celsius: float) -> None:
    """R2 = R1 (1 + 0.00323 (T2 - 75)), a note of Table 8."""
    ours = copper_factor(celsius) / copper_factor(75.0)
    assert ours == pytest.approx(1.0 + 0.00323 * (celsius - 75.0), rel=0.0005)


@pytest.mark.parametrize("square_mm", IEC_60228)
def test_iec_60228_class_5(square_mm: float) -> None:
    plain, tinned = IEC_60228[square_mm]
    assert conductor(f"{square_mm}mm2").ohms_per_metre * 1000 == pytest.approx(plain)
    assert conductor(f"{square_mm}mm2", tinned=True).ohms_per_metre * 1000 == pytest.approx(tinned)
    assert 1.10 <= plain / (17.241 / square_mm) <= 1.16, "10 to 16 % above ideal copper"
    assert len(CLASS_5) == len(IEC_60228)


@pytest.mark.parametrize(
    ("celsius", "factor"), [(5, 1.064), (25, 0.980), (50, 0.893), (75, 0.820), (90, 0.781)]
)
def test_iec_60228_temperature_factors(celsius: float, factor: float) -> None:
    """R(20) = R(T) k. The standard rounds copper's coefficient to 0.004: within half a percent."""
    assert 1.0 / copper_factor(celsius) == pytest.approx(factor, rel=0.005)


@pytest.mark.parametrize("name", CFR)
@pytest.mark.parametrize(("column", "insulation"), list(enumerate((60, 75, 90, 105))))
def test_33_cfr_183_425(name: str, column: int, insulation: int) -> None:
    assert table_amps(conductor(name), insulation) == CFR[name][column]
    assert len(TABLE_5) == len(CFR)


@pytest.mark.parametrize("name", IN_ENGINE_SPACE)
def test_engine_space(name: str) -> None:
    """A published table of note 1, rounded there by hand: within an amp."""
    amps = ampacity(conductor(name), 105, engine_space=True)
    assert amps == pytest.approx(IN_ENGINE_SPACE[name], abs=1.0)


@pytest.mark.parametrize("square_mm", ISO_10133)
def test_metric_ampacity_is_no_higher_than_either_source(square_mm: float) -> None:
    """Never above ISO 10133 (from memory), nor above the CFR's next thicker gauge; near both."""
    amps = table_amps(conductor(f"{square_mm}mm2"), 105)
    assert amps <= ISO_10133[square_mm]
    assert amps >= 0.90 * ISO_10133[square_mm]
    thicker = [size for size in gauges() if size.square_mm >= square_mm]
    if thicker:
        assert amps <= table_amps(thicker[0], 105)
