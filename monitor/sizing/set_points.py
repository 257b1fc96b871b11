"""Set-points of a chemistry at a temperature, within the clamp that real chargers have.

`monitor.bank` holds what the trade knows of each chemistry; here it becomes volts of a bank at the
temperature it will meet, and a table for the wall.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from monitor.bank import Chemistry, SetPoints, compensated

#: Rows of the table for the wall, °C.
WALL_CELSIUS: Final = tuple(float(celsius) for celsius in range(-20, 51, 5))
WALL_VOLTS: Final = (12, 24, 48)


@dataclass(frozen=True, slots=True)
class SetPointsAt:
    """Volts of the whole bank at `celsius`; None where the chemistry has no such stage.

    `clamped`: the temperature lies beyond what compensation follows. `may_charge`: within the
    temperatures at which this chemistry may be charged at all.
    """

    celsius: float
    absorption: float
    float_: float | None
    low_hold: float | None
    equalize: float | None
    clamped: bool
    may_charge: bool


def set_points_at(
    chemistry: Chemistry,
    nominal_volts: int,
    celsius: float,
    given: SetPoints | None = None,
) -> SetPointsAt:
    """Typical set-points of the chemistry, or those `given`, moved to `celsius`.

    Flooded, 12 V, 35 °C: absorption 14.58 - 0.30 = 14.28 V.
    """
    points = given or SetPoints()
    cells = chemistry.cells_per_12_volts * nominal_volts // 12
    mv = points.compensation_mv_per_celsius_per_cell
    if mv is None:
        mv = chemistry.compensation_mv.typical
    clamp = points.compensation_celsius or chemistry.compensation_celsius

    def moved(volts: float | None) -> float | None:
        return None if volts is None else compensated(volts, celsius, mv, cells, clamp)

    equalize = points.equalize
    if equalize is None and chemistry.equalize is not None:
        equalize = chemistry.equalize.typical * cells
    if chemistry.equalize is None:
        equalize = None
    float_ = points.float_
    if float_ is None:
        float_ = chemistry.float_.typical * cells
    absorption = points.absorption or chemistry.absorption.typical * cells
    return SetPointsAt(
        celsius,
        compensated(absorption, celsius, mv, cells, clamp),
        moved(float_),
        moved(points.low_hold),
        moved(equalize),
        mv != 0.0 and not clamp[0] <= celsius <= clamp[1],
        chemistry.charge_celsius[0] <= celsius <= chemistry.charge_celsius[1],
    )


def wall_table(
    chemistry: Chemistry, nominal_volts: int, given: SetPoints | None = None
) -> tuple[SetPointsAt, ...]:
    """A row for each 5 °C from -20 to 50."""
    return tuple(
        set_points_at(chemistry, nominal_volts, celsius, given) for celsius in WALL_CELSIUS
    )
