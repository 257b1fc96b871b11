"""Copper conductors, AWG and metric: their area, and their resistance at a temperature.

A conductor is named as on the drum: `2/0` (AWG) or `50mm2`. Resistances are of one conductor, in
ohms a metre; both legs of a circuit are the caller's business (`cable`).

AWG areas follow from the gauge's geometry (ASTM B258: d = 0.127 mm x 92^((36-n)/39)), copper from
IEC 60028 (58 MS/m at 20 °C, 0.00393/K), and strands are longer than the cable they lie in: all 15
rows of NEC Chapter 9 Table 8 are met within 0.5 % by one stranding factor. Metric conductors carry
the *maximum* of IEC 60228 class 5, which is 10 to 16 % above ideal copper of that area.

Cable sold by AWG for vehicles is often made to the smaller SAE areas (J1127, J1128; 3 to 12 %
less copper); `sae` takes those.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

#: Siemens a metre of annealed copper at 20 °C, and its coefficient (IEC 60028).
COPPER_SIEMENS: Final = 58.0e6
COPPER_PER_CELSIUS: Final = 0.00393
#: Strands against solid copper of the same area: the mean ratio of NEC Chapter 9 Table 8 to the
#: geometry over its 15 rows, 1.018 to 1.025.
STRANDING: Final = 1.0212
#: Square metres of a circular mil: a circle of a thousandth of an inch.
CIRCULAR_MIL: Final = math.pi / 4.0 * 25.4e-6**2

#: Gauge number by name; 1/0 is nought, 4/0 minus three.
GAUGES: Final[dict[str, int]] = {
    "18": 18, "16": 16, "14": 14, "12": 12, "10": 10, "8": 8, "6": 6, "4": 4, "3": 3, "2": 2,
    "1": 1, "1/0": 0, "2/0": -1, "3/0": -2, "4/0": -3,
}  # fmt: skip

#: Least area in circular mils of SAE J1127 and J1128 cable (two marine cable catalogues).
SAE_CIRCULAR_MILS: Final[dict[str, int]] = {
    "18": 1_537, "16": 2_336, "14": 3_702, "12": 5_833, "10": 9_343, "8": 14_810, "6": 24_538,
    "4": 37_360, "2": 62_450, "1": 77_790, "1/0": 98_980, "2/0": 125_100, "3/0": 158_600,
    "4/0": 205_500,
}  # fmt: skip

#: Greatest ohms a kilometre at 20 °C by mm2: plain and tinned copper (IEC 60228, class 5).
CLASS_5: Final[dict[float, tuple[float, float]]] = {
    0.75: (26.0, 26.7), 1.0: (19.5, 20.0), 1.5: (13.3, 13.7), 2.5: (7.98, 8.21),
    4.0: (4.95, 5.09), 6.0: (3.30, 3.39), 10.0: (1.91, 1.95), 16.0: (1.21, 1.24),
    25.0: (0.780, 0.795), 35.0: (0.554, 0.565), 50.0: (0.386, 0.393), 70.0: (0.272, 0.277),
    95.0: (0.206, 0.210), 120.0: (0.161, 0.164),
}  # fmt: skip

#: Tinned against plain strands (IEC 60228 class 5: 1.019 to 1.030, here for AWG).
TINNED: Final = 1.025


@dataclass(frozen=True, slots=True)
class Conductor:
    """One conductor. `square_mm` is its copper, `ohms_per_metre` at 20 °C of one leg."""

    name: str
    metric: bool
    square_mm: float
    ohms_per_metre: float

    @property
    def circular_mils(self) -> float:
        return self.square_mm * 1e-6 / CIRCULAR_MIL


def copper_factor(celsius: float) -> float:
    """Resistance at a temperature against that at 20 °C: 1.216 at 75 °C."""
    return 1.0 + COPPER_PER_CELSIUS * (celsius - 20.0)


def gauge_square_mm(number: int) -> float:
    """Area of an AWG number by its geometry (ASTM B258): 10 -> 5.26 mm2."""
    return math.pi / 4.0 * (0.127 * math.exp(math.log(92.0) * (36 - number) / 39.0)) ** 2


def _awg(name: str, *, tinned: bool, sae: bool) -> Conductor:
    if sae:
        square_mm = SAE_CIRCULAR_MILS[name] * CIRCULAR_MIL * 1e6
    else:
        square_mm = gauge_square_mm(GAUGES[name])
    ohms = STRANDING / (COPPER_SIEMENS * square_mm * 1e-6)
    return Conductor(name, False, square_mm, ohms * (TINNED if tinned else 1.0))


def _metric(square_mm: float, *, tinned: bool) -> Conductor:
    plain, coated = CLASS_5[square_mm]
    return Conductor(f"{square_mm:g}mm2", True, square_mm, (coated if tinned else plain) / 1000.0)


def conductor(name: str, *, tinned: bool = False, sae: bool = False) -> Conductor:
    """The conductor of a name: `2/0`, `AWG 2/0`, `50mm2`. KeyError where there is none."""
    wanted = name.strip().lower().replace(" ", "").replace("²", "2").removeprefix("awg")
    if wanted.endswith("mm2"):
        try:
            square_mm = float(wanted.removesuffix("mm2"))
        except ValueError:
            raise KeyError(name) from None
        return _metric(square_mm, tinned=tinned)
    if wanted in {"0", "00", "000", "0000"}:
        wanted = f"{len(wanted)}/0"
    return _awg(wanted.removesuffix("awg"), tinned=tinned, sae=sae)


def gauges(*, tinned: bool = False, sae: bool = False) -> tuple[Conductor, ...]:
    """Every AWG size carried, thin to thick; 3 AWG is left out where SAE has none."""
    names = SAE_CIRCULAR_MILS if sae else GAUGES
    return tuple(_awg(name, tinned=tinned, sae=sae) for name in names)


def metric_sizes(*, tinned: bool = False) -> tuple[Conductor, ...]:
    """Every metric size carried, thin to thick."""
    return tuple(_metric(square_mm, tinned=tinned) for square_mm in CLASS_5)
