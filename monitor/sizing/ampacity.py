"""What a conductor may carry without harm to its insulation: ampacity.

33 CFR 183.425 Table 5 (public law): single copper conductors in air of 30 °C, one column for each
temperature that an insulation is made for. In engine spaces its note 1 applies (50 °C), where three
or more current-carrying conductors lie in one bundle or sheath its note 2. For any other air the
heat balance behind note 1 serves: what a current may warm the conductor by is what the insulation
stands less the air. It reproduces note 1 within 0.01.

Metric sizes have no line in that table: they are interpolated between its lines by area (both on a
log scale), rounded down to 5 A, and at 105 °C never above ISO 10133. The law is for boats; coaches
and vans have no such table of their own, and common practice takes this one.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

from monitor.sizing.conductors import GAUGES, Conductor, gauge_square_mm

#: °C of the columns of Table 5.
INSULATIONS: Final = (60, 75, 80, 90, 105, 125, 200)
#: °C of the air for which Table 5 is made, and of an engine space (33 CFR 183.425, notes).
TABLE_CELSIUS: Final = 30.0
ENGINE_SPACE_CELSIUS: Final = 50.0

#: Amps by gauge and column (33 CFR 183.425 Table 5).
TABLE_5: Final[dict[str, tuple[int, ...]]] = {
    "18": (10, 10, 15, 20, 20, 25, 25),
    "16": (15, 15, 20, 25, 25, 30, 35),
    "14": (20, 20, 25, 30, 35, 40, 45),
    "12": (25, 25, 35, 40, 45, 50, 55),
    "10": (40, 40, 50, 55, 60, 70, 70),
    "8": (55, 65, 70, 70, 80, 90, 100),
    "6": (80, 95, 100, 100, 120, 125, 135),
    "4": (105, 125, 130, 135, 160, 170, 180),
    "3": (120, 145, 150, 155, 180, 195, 210),
    "2": (140, 170, 175, 180, 210, 225, 240),
    "1": (165, 195, 210, 210, 245, 265, 280),
    "1/0": (195, 230, 245, 245, 285, 305, 325),
    "2/0": (225, 265, 285, 285, 330, 355, 370),
    "3/0": (260, 310, 330, 330, 385, 410, 430),
    "4/0": (300, 360, 385, 385, 445, 475, 510),
}

#: Note 1 of Table 5: factors in engine spaces (105 °C: catalogue copies; the rest from memory).
ENGINE_SPACE: Final[dict[int, float]] = {
    60: 0.58, 75: 0.75, 80: 0.78, 90: 0.82, 105: 0.85, 125: 0.89, 200: 1.00,
}  # fmt: skip

#: Note 2 of Table 5: conductors in one bundle, from so many on (from memory).
BUNDLED: Final = ((3, 0.70), (4, 0.60), (7, 0.50), (25, 0.40))

#: ISO 10133, 105 °C insulation, amps by mm2 (from memory): a second upper limit.
ISO_10133: Final[dict[float, int]] = {
    0.75: 16, 1.0: 20, 1.5: 25, 2.5: 35, 4.0: 45, 6.0: 60, 10.0: 90, 16.0: 130, 25.0: 170,
    35.0: 210, 50.0: 270, 70.0: 330, 95.0: 390, 120.0: 450,
}  # fmt: skip


_ROWS: Final = tuple(TABLE_5.values())
_LOG_AREAS: Final = tuple(math.log(gauge_square_mm(GAUGES[name])) for name in TABLE_5)


def table_amps(conductor: Conductor, insulation: int = 105) -> float:
    """Amps in free air of 30 °C, a conductor alone or in a pair: 2/0 at 105 °C -> 330 A."""
    column = INSULATIONS.index(insulation)
    if not conductor.metric:
        return float(TABLE_5[conductor.name][column])
    amps = 5.0 * math.floor(_between(conductor.square_mm, column) / 5.0)
    if insulation == 105:
        amps = min(amps, ISO_10133[conductor.square_mm])
    return amps


def _between(square_mm: float, column: int) -> float:
    """Table 5 at an area between its gauges; beyond its ends the last piece goes on."""
    x = math.log(square_mm)
    pieces = list(pairwise(_LOG_AREAS))
    n = next((n for n, (_, right) in enumerate(pieces) if x <= right), len(pieces) - 1)
    left, right = pieces[n]
    low, high = (math.log(row[column]) for row in (_ROWS[n], _ROWS[n + 1]))
    return math.exp(low + (x - left) * (high - low) / (right - left))


def bundle_factor(conductors: int) -> float:
    """For current-carrying conductors in one bundle: 1 for a pair, 0.7 for three."""
    factor = 1.0
    for least, value in BUNDLED:
        if conductors >= least:
            factor = value
    return factor


def air_factor(insulation: int, celsius: float, *, engine_space: bool = False) -> float:
    """For air warmer than 30 °C; cooler air earns nothing. 0 where the air is as hot as it stands.

    An engine space is 50 °C at least: note 1 of Table 5, or the air given if that is worse.
    """
    warm = max(celsius, TABLE_CELSIUS)
    room = (insulation - warm) / (insulation - TABLE_CELSIUS)
    factor = math.sqrt(max(0.0, room))
    return min(factor, ENGINE_SPACE[insulation]) if engine_space else factor


def ampacity(
    conductor: Conductor,
    insulation: int = 105,
    *,
    air_celsius: float = TABLE_CELSIUS,
    engine_space: bool = False,
    bundled: int = 2,
) -> float:
    """Amps that a conductor may carry all day where it lies: 2/0, engine space -> 280 A."""
    amps = table_amps(conductor, insulation)
    return (
        amps
        * air_factor(insulation, air_celsius, engine_space=engine_space)
        * bundle_factor(bundled)
    )


def conductor_celsius(
    conductor: Conductor,
    amps: float,
    insulation: int = 105,
    *,
    air_celsius: float = TABLE_CELSIUS,
    bundled: int = 2,
) -> float:
    """How warm the copper runs: the air, and a rise with the square of the current.

    At the ampacity of Table 5 in air of 30 °C the rise is what the insulation stands (physics: heat
    is I squared times R, and leaves in proportion to the rise). Held at what the insulation stands.
    """
    most = table_amps(conductor, insulation) * bundle_factor(bundled)
    rise = (insulation - TABLE_CELSIUS) * (amps / most) ** 2
    return min(air_celsius + rise, float(max(insulation, air_celsius)))
