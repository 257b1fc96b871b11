"""What a cable should lose: the conductor as printed, its length one way, the current, its warmth.

Resistances are those of NEC Chapter 9 Table 8 (stranded, uncoated copper, 75 °C) for AWG, and the
highest that IEC 60228 class 5 allows (plain copper, 20 °C) for mm². Both legs together.
"""

from __future__ import annotations

import re
from typing import Final, NamedTuple

#: Ohms for 1000 ft at 75 °C, NEC Chapter 9 Table 8 (secondary copies).
AWG_OHMS_PER_KFT: Final = {
    "18": 7.95, "16": 4.99, "14": 3.14, "12": 1.98, "10": 1.24, "8": 0.778, "6": 0.491,
    "4": 0.308, "3": 0.245, "2": 0.194, "1": 0.154, "1/0": 0.122, "2/0": 0.0967,
    "3/0": 0.0766, "4/0": 0.0608,
}  # fmt: skip
#: Ohms for a kilometre at 20 °C, IEC 60228 class 5, plain copper (secondary copies).
MM2_OHMS_PER_KM: Final = {
    0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98, 4.0: 4.95, 6.0: 3.30, 10.0: 1.91, 16.0: 1.21,
    25.0: 0.780, 35.0: 0.554, 50.0: 0.386, 70.0: 0.272, 95.0: 0.206, 120.0: 0.161,
}  # fmt: skip
_METRES_PER_KFT: Final = 304.8
#: R2 = R1 (1 + 0.00323 (T2 - 75)), note to NEC Table 8.
_NEC_PER_CELSIUS: Final = 0.00323
#: IEC 60028: 0.00393 for each °C from 20.
_IEC_PER_CELSIUS: Final = 0.00393


class Conductor(NamedTuple):
    """Ohms a metre at a temperature, by `per_celsius` from `at_celsius`; where it comes from."""

    ohms_per_metre: float
    at_celsius: float
    per_celsius: float
    source: str


def conductor(text: str) -> Conductor | None:
    """A conductor as it is printed: `2 AWG`, `AWG 1/0`, `35 mm2`; None where it is none of ours."""
    plain = text.strip().lower().replace("²", "2").replace("#", "")
    awg = re.fullmatch(r"(?:awg\s*)?(\d{1,2}(?:/0)?)\s*(?:awg)?", plain)
    if awg is not None and "awg" in plain and awg[1] in AWG_OHMS_PER_KFT:
        ohms = AWG_OHMS_PER_KFT[awg[1]] / _METRES_PER_KFT
        return Conductor(ohms, 75.0, _NEC_PER_CELSIUS, "NEC Chapter 9 Table 8")
    metric = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(?:sq\s*)?mm2?", plain)
    if metric is not None and float(metric[1]) in MM2_OHMS_PER_KM:
        ohms = MM2_OHMS_PER_KM[float(metric[1])] / 1000.0
        return Conductor(ohms, 20.0, _IEC_PER_CELSIUS, "IEC 60228 class 5, plain copper")
    return None


def expected_volts(
    text: str, one_way_metres: float, amps: float, celsius: float
) -> tuple[float, str] | None:
    """Volts lost on both legs, and the source of the figure; None for an unknown conductor.

    50 A through 35 mm² class 5, 3 m one way, at 20 °C: 0.166 V.
    """
    found = conductor(text)
    if found is None:
        return None
    ohms = found.ohms_per_metre * (1.0 + found.per_celsius * (celsius - found.at_celsius))
    return 2.0 * one_way_metres * ohms * amps, found.source
