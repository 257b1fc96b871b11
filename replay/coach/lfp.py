"""An LFP bank: a flat curve with steep ends, hysteresis, cells that are not quite equal.

One well of charge, a series resistance and two RC pairs; hysteresis moves with the charge that
passes. Cells differ by a fixed share of charge, so that near full the first cell runs ahead and a
protection can see it; bleeding at the top slowly closes the difference.
"""

from __future__ import annotations

from math import exp, log, tanh
from typing import Final

from replay.coach.cells import CELLS_PER_12_VOLTS, DOUBLING_CELSIUS, LITHIUM_CELL
from replay.coach.circuit import Balance, Branch
from replay.coach.models import BankModel

_DOUBLING: Final = log(2.0) / DOUBLING_CELSIUS
#: Resistance grows about 3 % per °C in the cold (from memory), with a floor when warm.
_COLD_PER_CELSIUS: Final = 0.030
#: Share of a full swing of charge over which hysteresis turns over (from memory).
_HYSTERESIS_SWING: Final = 0.04
#: Bleeding: amps at a first cell above this voltage (common practice: 0.05 to 0.2 A, from 3.4 V).
_BLEED_VOLTS: Final = 3.42
_BLEED_AMPS: Final = 0.10
#: 12 V 100 Ah weigh about 11 kg at about 1.1 kJ/kg K, and lose about 0.8 W/K (from memory).
_JOULES_PER_KELVIN: Final = 11.0 * 1100.0
_WATTS_PER_KELVIN: Final = 0.8


def open_cell_volts(share: float) -> float:
    """Rest volts of one cell: two plateaus, a fall at the bottom, a wall at the top.

    Shaped between the three published curves of the trade, which differ by up to 80 mV.
    """
    low = 0.75 * exp(-share / 0.04) if share > -0.1 else 0.75 * exp(2.5)
    over = (share - 1.0) / 0.006
    wall = 0.15 * exp(over if over < 4.0 else 4.0)
    steps = 0.022 * tanh((share - 0.25) / 0.06) + 0.015 * tanh((share - 0.70) / 0.05)
    return 3.2585 + 0.055 * share - low + 0.5 * steps + wall


class LithiumBank:
    """The bank as it is now. `soc` is the fraction of its present usable capacity."""

    def __init__(self, model: BankModel, step_seconds: float) -> None:
        self.model = model
        self.cell = LITHIUM_CELL
        self.cells = CELLS_PER_12_VOLTS[model.chemistry] * model.nominal_volts // 12
        self.step_seconds = step_seconds
        self.capacity = model.capacity
        self.resistance = model.resistance
        self.shorted = 0
        self.losing = 1.0
        self.cooling = 1.0
        self.celsius = model.celsius
        self.charge = model.soc
        self.lead = 0.5 * model.spread
        self.lag = 0.5 * model.spread
        self.turned = 0.0
        self.quick = 0.0
        self.slow = 0.0
        self.inner = self.rest_volts()
        self.gas_amps = 0.0
        self.stored_amps = 0.0
        self.flowing = 0.0
        self._quick_decay = 1.0 - exp(-step_seconds / self.cell.quick_seconds)
        self._slow_decay = 1.0 - exp(-step_seconds / self.cell.slow_seconds)

    @property
    def amp_hours(self) -> float:
        return self.model.amp_hours * self.capacity

    @property
    def soc(self) -> float:
        return min(max(self.charge, 0.0), 1.0)

    def rest_volts(self) -> float:
        return open_cell_volts(self.charge) * (self.cells - self.shorted)

    def branch(self) -> Branch:
        """The bank as the wiring sees it; the wall at the top is taken a step ahead."""
        cells = self.cells - self.shorted
        here = open_cell_volts(self.charge)
        volts = here + self.cell.hysteresis * self.turned
        moved = self.step_seconds / 3600.0
        stiff = (open_cell_volts(self.charge + 2e-4) - here) / 2e-4 * moved
        cold = self._cold()
        series = self.cell.series * self.resistance * cold
        siemens = self.amp_hours / ((0.5 * series + stiff) * cells)
        return Branch(
            volts * cells,
            siemens,
            siemens,
            0.0,
            self.inner,
            0.0,
            1.0,
            (self.quick + self.slow) * cells,
            0.5 * series * cells / self.amp_hours,
        )

    def _cold(self) -> float:
        return max(exp(_COLD_PER_CELSIUS * (25.0 - self.celsius)), 0.6)

    def advance(self, found: Balance, branch: Branch, air_celsius: float) -> None:
        """Carry the step's current through: charge, hysteresis, RC pairs, bleeding, warmth."""
        cell, hours = self.cell, self.step_seconds / 3600.0
        self.inner, amps = found.inner, found.amps
        self.flowing = amps
        rate = amps / self.amp_hours
        stored = rate * cell.efficiency if rate > 0.0 else rate
        self.stored_amps = stored * self.amp_hours
        loss = cell.self_discharge / 720.0 * self.losing
        loss *= exp(_DOUBLING * (self.celsius - 25.0))
        self.charge = max(self.charge + (stored - loss * self.charge) * hours, 0.0)
        swing = rate * hours / _HYSTERESIS_SWING
        aim = 1.0 if rate > 0.0 else -1.0
        self.turned += (aim - self.turned) * min(abs(swing), 1.0)
        cold = self._cold() * self.resistance
        self.quick += (cell.quick * cold * rate - self.quick) * self._quick_decay
        self.slow += (cell.slow * cold * rate - self.slow) * self._slow_decay
        if self.highest_cell_volts() > _BLEED_VOLTS and self.lead > 0.0:
            self.lead = max(self.lead - _BLEED_AMPS / self.amp_hours * hours, 0.0)
        size = self.model.amp_hours / 100.0 * self.model.nominal_volts / 12.0
        ohms = branch.ohms * 2.0 + (cell.quick + cell.slow) * cold * self.cells / self.amp_hours
        watts = amps * amps * ohms
        lost = _WATTS_PER_KELVIN * size * self.cooling * (self.celsius - air_celsius)
        self.celsius += (watts - lost) * self.step_seconds / (_JOULES_PER_KELVIN * size)

    def _over_volts(self) -> float:
        rate = self.flowing / self.amp_hours
        series = self.cell.series * self.resistance * self._cold() * rate
        return self.cell.hysteresis * self.turned + self.quick + self.slow + series

    def cell_volts(self, number: int) -> float:
        """Volts of cell 1..n: the first is ahead, the last behind, the rest between."""
        share = (number - 1) / (self.cells - 1)
        ahead = self.lead - (self.lead + self.lag) * share
        return open_cell_volts(self.charge + ahead) + self._over_volts()

    def highest_cell_volts(self) -> float:
        return open_cell_volts(self.charge + self.lead) + self._over_volts()

    def lowest_cell_volts(self) -> float:
        return open_cell_volts(self.charge - self.lag) + self._over_volts()

    def short_a_cell(self) -> None:
        """One cell goes: its volts are gone at once."""
        before = self.cells - self.shorted
        self.shorted += 1
        self.inner *= (before - 1) / before

    def halves(self, posts: float) -> tuple[float, float]:
        """Lower and upper half-bank volts; a shorted cell lies in the lower half."""
        upper = posts * (self.cells / 2) / (self.cells - self.shorted)
        return posts - upper, upper
