"""How fast a held current falls, as news of how little charge is missing.

Between two moments, a third of an hour apart or more, the log of the stored rate fell by what the
circuit says of the charge that went in between. An error of the circuit's level is the same at both
moments, so this is news beside what the level itself says.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import ClassVar, Final

from monitor.engine.cell import Circuit
from monitor.engine.unknowns import CAPACITY, POLARISATION, SOC

CALM_HOURS: Final = 0.05  # three minutes of steady hold before anything is compared
TAPER_HOURS: Final = 1.0 / 3.0  # between two looks: noise and loads average out (ours)
TAPER_ERROR: Final = 0.2  # of the fall: the law of acceptance is only roughly right
TAPER_DRIFT: Final = 0.1  # of the log of the rate in an hour: acceptance wanders
LEAST_TAPER: Final = 0.002  # of the label: below, the sensor's error is the larger part
LEAST_MISSING: Final = 3e-4  # the slope of the acceptance so near to full means nothing
LEAST_PUSH: Final = 0.02  # volts per cell above rest: below, nothing pushes

News = tuple[list[float], float, float]


class FallingCurrent:
    """One hold at a time. `look` gives (row, residual, error) when there is news."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "_amps",
        "_calm_hours",
        "_first_amps",
        "_first_polarisation",
        "_first_volts",
        "_hours",
        "_moved",
        "_volts",
    )
    __slots__ = KEPT

    def __init__(self) -> None:
        self._amps = 0.0
        self._volts = 0.0
        self._calm_hours = 0.0
        self._hours = 0.0
        self._moved = 0.0
        self._first_amps = 0.0
        self._first_volts = 0.0
        self._first_polarisation = 0.0

    def disturb(self) -> None:
        """The hold was broken: what was noted means nothing any more."""
        self._calm_hours = 0.0

    def look(
        self,
        hours: float,
        amps: float,
        volts: float,
        stored_rate: Callable[[float, float], float],
        mean: list[float],
        circuit: Circuit,
        celsius: float,
    ) -> News | None:
        """One block of `hours` at `amps` and `volts` per cell; `stored_rate(amps, volts)`."""
        if not self._note(hours, amps, volts, stored_rate(amps, volts) * hours, mean):
            return None
        before = stored_rate(self._first_amps, self._first_volts)
        after = stored_rate(self._amps, self._volts)
        taken, moved = self._hours, self._moved
        self._hours = self._moved = 0.0
        if min(before, after) < LEAST_TAPER:
            return None
        soc = mean[SOC]
        missing = max(1.0 - soc, LEAST_MISSING)
        then = missing + moved
        push_before = self._first_volts - circuit.curve.at(soc - moved) - self._first_polarisation
        push_after = self._volts - circuit.curve.at(soc) - mean[POLARISATION]
        if min(push_before, push_after) < LEAST_PUSH:
            return None
        kinetic, fresh = circuit.traits.kinetic, circuit.fresh
        by_power = math.log(then / missing)
        fall = (
            circuit.power * by_power
            + math.log((1.0 + then * fresh) / (1.0 + missing * fresh))
            + math.log(math.sinh(push_before / kinetic) / math.sinh(push_after / kinetic))
        )
        gas_before = circuit.gas(self._first_volts, celsius) / before
        gas_after = circuit.gas(self._volts, celsius) / after
        row = [
            circuit.power * (1.0 / missing - 1.0 / then),
            0.0,
            0.0,
            by_power,
            gas_before - gas_after,
            math.exp(-mean[CAPACITY]) * (1.0 / before - 1.0 / after),
            -circuit.power * moved / then,
            0.0,
        ]
        error = TAPER_ERROR * abs(fall) + TAPER_DRIFT * taken
        return row, math.log(before / after) - fall, error

    def _note(
        self, hours: float, amps: float, volts: float, moved: float, mean: list[float]
    ) -> bool:
        """Follow the hold; True when a look back is due."""
        if self._calm_hours == 0.0:
            self._amps, self._volts = amps, volts
            self._hours = 0.0
        self._calm_hours += hours
        gain = min(1.0, hours / CALM_HOURS)
        self._amps += gain * (amps - self._amps)
        self._volts += gain * (volts - self._volts)
        if self._calm_hours < 2.0 * CALM_HOURS:
            self._hours = self._moved = 0.0
            return False
        if self._hours == 0.0:
            self._first_amps, self._first_volts = self._amps, self._volts
            self._first_polarisation = mean[POLARISATION]
        self._hours += hours
        self._moved += moved
        return self._hours >= TAPER_HOURS
