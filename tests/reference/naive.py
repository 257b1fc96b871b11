"""The naive method that the engine must beat: fixed thresholds, plain counting, Ah over amps.

As tests/reference/truth/README.md describes it: thresholds of 20 mV per cell around the given
set-points (fixed guesses where they are not given), 0.5 % of the amp-hours as idle current, rest
voltage for the first state of charge, plain counting of amp-hours, 1 when the absorption current
is below 2 % of the amp-hours, and time to full as the missing amp-hours over the present amps.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

from monitor.bank import rest_soc
from monitor.chemistries import CHEMISTRIES

BAND_VOLTS_PER_CELL: Final = 0.020
IDLE: Final = 0.005
FULL: Final = 0.02
#: Fixed guesses, volts per cell at 25 °C, where no set-points are given (common practice).
GUESSES: Final = {"lead": (2.40, 2.25), "lfp": (3.55, 3.375)}
STEP_LIMIT_SECONDS: Final = 60.0

Row = tuple[float, str, float | None, float | None]


def predict(
    public: Mapping[str, Any], rows: list[tuple[float, float | None, float | None, float | None]]
) -> Iterator[Row]:
    """Rows of (seconds, volts, amps, celsius) to rows of (seconds, stage, soc, seconds to full)."""
    chemistry = CHEMISTRIES[public["chemistry"]]
    cells, amp_hours = public["cells_in_series"], public["ah_nameplate"]
    points = public.get("setpoints") or {}
    guess = GUESSES["lead" if chemistry.lead else "lfp"]
    absorption = points.get("absorption", guess[0] * cells)
    float_ = points.get("float", guess[1] * cells)
    equalize = points.get("equalize")
    band, idle = BAND_VOLTS_PER_CELL * cells, IDLE * amp_hours
    soc: float | None = None
    before: float | None = None
    volts = amps = celsius = None
    for seconds, new_volts, new_amps, new_celsius in rows:
        volts = volts if new_volts is None else new_volts
        amps = amps if new_amps is None else new_amps
        celsius = celsius if new_celsius is None else new_celsius
        if volts is None or amps is None:
            yield seconds, "rest", None, None
            continue

        if soc is None:
            soc = rest_soc(chemistry, volts / cells)
        elif before is not None:
            soc += amps * min(seconds - before, STEP_LIMIT_SECONDS) / 3600 / amp_hours
            soc = min(1.0, max(0.0, soc))
        before = seconds
        if amps < -idle:
            stage = "discharge"
        elif equalize is not None and volts > absorption + 2 * band:
            stage = "equalize"
        elif volts >= absorption - band:
            stage = "absorption"
        elif abs(volts - float_) <= band:
            stage = "float"
        elif amps > idle:
            stage = "bulk"
        else:
            stage = "rest"
        if stage == "absorption" and amps < FULL * amp_hours:
            soc = 1.0
        left = (1 - soc) * amp_hours / amps * 3600 if amps > idle else None
        yield seconds, stage, soc, left
