"""How big a bank: daily use, days on its own, lowest planned charge, cold, age; and its layout.

Ah = daily x days / (1 - lowest) x temperature factor x ageing. The temperature factor is IEEE 485's
for lead-acid; for LFP what a published battery model (NREL) gives. Ageing allows for the 80 % at
which a battery counts as worn out (IEEE 485).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from monitor.bank import Chemistry

#: IEEE 485: Ah wanted for each Ah at 25 °C, by °C (from memory; the published fit agrees to 0.012).
LEAD_FACTORS: Final = (
    (-3.9, 1.52), (4.4, 1.30), (10.0, 1.19), (15.6, 1.11), (21.1, 1.04), (25.0, 1.00),
    (32.2, 0.94), (37.8, 0.91), (51.7, 0.85),
)  # fmt: skip
#: LFP: usable share by °C (NREL-PySAM's battery model).
LFP_USABLE: Final = (
    (-20.0, 0.723), (-10.0, 0.818), (0.0, 0.888), (10.0, 0.930), (23.0, 0.967), (45.0, 1.010),
)  # fmt: skip
#: Replace at 80 % of the rating: 1 / 0.8 (IEEE 485, from memory).
AGEING: Final = 1.25
#: Strings in parallel beyond which they share badly (common practice: three, four at most).
MOST_STRINGS: Final = 4

#: Nominal volts of a lead cell and of an LFP cell; labels say 12 V for 12.8 V.
_CELL_VOLTS: Final = {True: 2.0, False: 3.2}
LABELS_DIFFER: Final = 0.07


@dataclass(frozen=True, slots=True)
class BankSize:
    """Amp-hours at the 20 h rate, and the factors that lead there."""

    amp_hours: float
    used_amp_hours: float
    usable_share: float
    temperature_factor: float
    ageing: float
    typical_amps: float
    rate_factor: float


@dataclass(frozen=True, slots=True)
class Layout:
    """Batteries in series and strings in parallel; `amp_hours` of the whole."""

    series: int
    parallel: int
    unit_volts: float
    unit_amp_hours: float
    amp_hours: float

    @property
    def batteries(self) -> int:
        return self.series * self.parallel


def _at(table: tuple[tuple[float, float], ...], x: float) -> float:
    """Piecewise linear; held below the table's end, where it would flatter above it too."""
    if x <= table[0][0]:
        (a, low), (b, high) = table[:2]
        return low + (high - low) / (b - a) * (x - a)
    for (a, low), (b, high) in pairwise(table):
        if x <= b:
            return low + (high - low) / (b - a) * (x - a)
    return table[-1][1]


def temperature_factor(chemistry: Chemistry, celsius: float) -> float:
    """Ah to have for each Ah at 25 °C: lead-acid at 10 °C -> 1.19; LFP at 0 °C -> 1.09."""
    if chemistry.lead:
        return _at(LEAD_FACTORS, celsius)
    return _at(LFP_USABLE, 25.0) / max(0.3, _at(LFP_USABLE, celsius))


def bank_size(
    chemistry: Chemistry,
    daily_amp_hours: float,
    days: float,
    lowest_soc: float,
    celsius: float = 25.0,
    ageing: float = AGEING,
    hours_of_use: float = 24.0,
) -> BankSize:
    """Warmth earns no smaller bank than 25 °C does (it shortens life instead).

    Where the day's use falls into so few hours that the current exceeds the 20 h rate, Peukert's
    law adds its part.
    """
    used = daily_amp_hours * days
    factor = max(1.0, temperature_factor(chemistry, celsius))
    size = used / (1.0 - lowest_soc) * factor * ageing
    amps = daily_amp_hours / hours_of_use
    rate = max(1.0, amps * 20.0 / size) ** (chemistry.peukert.typical - 1.0)
    return BankSize(size * rate, used, 1.0 - lowest_soc, factor, ageing, amps, float(rate))


def layout(
    chemistry: Chemistry,
    wanted_amp_hours: float,
    nominal_volts: int,
    unit_volts: float,
    unit_amp_hours: float,
) -> Layout | None:
    """Whole batteries; None where the unit's voltage does not divide the bank's.

    12 V from 6 V units of 225 Ah for 400 Ah -> 2 in series, 2 strings, 450 Ah. LFP of 48 V is 16
    cells of 3.2 V, or four batteries sold as 12 V (12.8 V).
    """
    volts = chemistry.cells_per_12_volts * nominal_volts / 12 * _CELL_VOLTS[chemistry.lead]
    series = round(volts / unit_volts)
    if series < 1 or abs(series * unit_volts - volts) > LABELS_DIFFER * volts:
        return None
    parallel = max(1, math.ceil(wanted_amp_hours / unit_amp_hours - 1e-9))
    return Layout(series, parallel, unit_volts, unit_amp_hours, parallel * unit_amp_hours)
