"""A lead-acid bank that behaves: two wells, taper, gas, surface charge, warmth, age.

The near well is what the terminals see; the far well follows it over hours (kinetic battery
model). That one mechanism gives the lower capacity at high current, the recovery at rest and, with
a transfer resistance that grows as the near well fills, the slow taper of absorption. Beside the
main reaction runs a gas reaction, tenfold per 0.2 V and doubling per 10 °C; its overvoltage is heat
(all of it where the gas recombines), which closes the loop of a thermal runaway.
"""

from __future__ import annotations

from math import exp, log
from typing import Final

from replay.coach.cells import (
    CELLS_PER_12_VOLTS,
    DENSITY_TO_VOLTS,
    DOUBLING_CELSIUS,
    GAS_DECADE_VOLTS,
    LEAD_CELLS,
)
from replay.coach.circuit import Balance, Branch
from replay.coach.models import BankModel

_GAS_SLOPE: Final = log(10.0) / GAS_DECADE_VOLTS
_DOUBLING: Final = log(2.0) / DOUBLING_CELSIUS
#: Volts per cell at which the gas figure of the table holds.
_GAS_VOLTS: Final = 2.40
#: Resistance rises by about 1 % per °C below 25, reactions slow by about 2.5 % (from memory).
_SERIES_PER_CELSIUS: Final = 0.010
_TRANSFER_PER_CELSIUS: Final = 0.025
#: Usable share of the charge falls 0.8 % per °C below 25 °C (about IEEE 485's factors).
_CAPACITY_PER_CELSIUS: Final = 0.008
#: Surface charge builds in about an hour and fades over a few (common practice: rest 4 to 8 h).
_SURFACE_UP_SECONDS: Final = 3600.0
_SURFACE_DOWN_SECONDS: Final = 9000.0
#: The seconds-scale pair in series: share of the series resistance, and its time (from memory).
_QUICK_SHARE: Final = 0.5
_QUICK_SECONDS: Final = 60.0
#: Bend of the curve when the near well runs dry: volts per cell at a tenth left (from memory).
_DRY_VOLTS: Final = 0.0025
#: Head of the near well at which that bend reaches 1.75 V per cell at the 20 h rate.
_DRY_SHARE: Final = 0.0115
#: 12 V 100 Ah weigh about 27 kg at about 0.95 kJ/kg K, in a box that loses about 1.2 W/K.
_JOULES_PER_KELVIN: Final = 27.0 * 950.0
_WATTS_PER_KELVIN: Final = 1.2
#: Volts per cell that leave with the gas and so do not heat (0.77 V at 2.25 V: common practice).
_GAS_CARRIES_VOLTS: Final = 1.48
#: Acid boils a little above water: further heat leaves as steam.
_BOILS_CELSIUS: Final = 105.0
#: A shorted cell turns its own stored energy to heat over about this long (from memory).
_SHORT_SECONDS: Final = 5400.0


class LeadBank:
    """The bank as it is now. Faults turn its knobs: `resistance`, `gas`, `acceptance`, `shorted`.

    `soc` is the fraction of the present usable capacity at the 20 h rate and 25 °C.
    """

    def __init__(self, model: BankModel, step_seconds: float) -> None:
        self.model = model
        self.cell = LEAD_CELLS[model.chemistry]
        self.cells = CELLS_PER_12_VOLTS[model.chemistry] * model.nominal_volts // 12
        self.step_seconds = step_seconds
        self.capacity = model.capacity
        self.resistance = model.resistance
        self.acceptance = model.acceptance
        self.gas = model.gas
        self.shorted = 0
        self.losing = 1.0
        self.cooling = 1.0
        self.celsius = model.celsius
        cell = self.cell
        spare = 0.05 * (1.0 - cell.available) ** 2 / cell.release
        self.left = (_DRY_SHARE + spare) / (1.0 + spare)
        charge = self.left + model.soc * (1.0 - self.left)
        self.near = self.far = charge
        self.surface = 0.0
        self.quick = 0.0
        self.short_joules = 0.0
        self.inner = self.rest_volts()
        self.gas_amps = 0.0
        self.stored_amps = 0.0
        self._quick_decay = 1.0 - exp(-step_seconds / _QUICK_SECONDS)

    @property
    def amp_hours(self) -> float:
        """Present usable amp-hours at the 20 h rate."""
        return self.model.amp_hours * self.capacity

    @property
    def charge(self) -> float:
        cell = self.cell
        return cell.available * self.near + (1.0 - cell.available) * self.far

    @property
    def soc(self) -> float:
        return min(max((self.charge - self.left) / (1.0 - self.left), 0.0), 1.0)

    @property
    def whole_amp_hours(self) -> float:
        """All the charge in both wells; a little of it is out of reach at the 20 h rate."""
        return self.amp_hours / (1.0 - self.left)

    def open_cell_volts(self, share: float) -> float:
        """Rest volts of one cell at this share of charge, by the density of its acid."""
        cell = self.cell
        line = cell.density_empty + (cell.density_full - cell.density_empty) * share
        return DENSITY_TO_VOLTS + line + 4.0 * cell.density_bow * share * (1.0 - share)

    def rest_volts(self) -> float:
        return self.open_cell_volts(self.charge) * (self.cells - self.shorted)

    def branch(self) -> Branch:
        """The bank as the wiring sees it during the next step."""
        cell, cells = self.cell, self.cells - self.shorted
        rate = self.whole_amp_hours
        cold = 25.0 - self.celsius
        series = cell.series * self.resistance * (1.0 + _SERIES_PER_CELSIUS * max(cold, -25.0))
        slow = exp(_TRANSFER_PER_CELSIUS * cold)
        near = self.near
        locked = _CAPACITY_PER_CELSIUS * cold if cold > 0.0 else 0.0
        reach = near - locked
        dry = _DRY_VOLTS / (reach if reach > 0.004 else 0.004) - _DRY_VOLTS
        volts = self.open_cell_volts(near) + self.surface - dry
        room = 1.0 - near
        hold = cell.acceptance * self.acceptance * slow / (room if room > 1e-4 else 1e-4)
        transfer = cell.transfer * self.resistance * slow
        gas = self._gas_at(volts)
        return Branch(
            volts * cells,
            rate / ((transfer + hold) * cells),
            rate / (transfer * cells),
            cell.farads * self.amp_hours / (cells * self.step_seconds),
            self.inner,
            gas,
            _GAS_SLOPE / cells,
            self.quick,
            series * cells / rate,
        )

    def _gas_at(self, cell_volts: float) -> float:
        warm = exp(_DOUBLING * (self.celsius - 25.0) + _GAS_SLOPE * (cell_volts - _GAS_VOLTS))
        return self.cell.gas * self.gas * self.model.amp_hours * warm

    def advance(self, found: Balance, branch: Branch, air_celsius: float) -> None:
        """Carry the step's current through: wells, surface charge, warmth."""
        cell, seconds = self.cell, self.step_seconds
        hours = seconds / 3600.0
        self.inner, self.gas_amps = found.inner, found.gas
        stored = found.main * cell.efficiency if found.main > 0.0 else found.main
        self.stored_amps = stored
        into = stored / self.whole_amp_hours
        slow = exp(-0.5 * _TRANSFER_PER_CELSIUS * (25.0 - self.celsius))
        head = self.near - self.far
        pace = cell.exchange / self.acceptance if head > 0.0 else cell.release
        flow = pace * slow * head
        loss = cell.self_discharge / 720.0 * self.losing
        loss *= exp(_DOUBLING * (self.celsius - 25.0))
        near = self.near + (into - flow) / cell.available * hours - loss * self.near * hours
        self.near = min(max(near, 0.0), 1.0)
        self.far += (flow / (1.0 - cell.available) - loss * self.far) * hours
        self.far = min(max(self.far, 0.0), 1.0)
        self._surface(found, branch, seconds)
        self.quick += (_QUICK_SHARE * branch.ohms * found.amps - self.quick) * self._quick_decay
        self._warm(found, branch, air_celsius)

    def _surface(self, found: Balance, branch: Branch, seconds: float) -> None:
        cells = self.cells - self.shorted
        over = (found.inner - branch.volts) / cells + self.surface
        target = self.cell.surface * over if over > 0.0 else 0.0
        lag = _SURFACE_UP_SECONDS if target > self.surface else _SURFACE_DOWN_SECONDS
        if found.amps < 0.0:  # a load takes surface charge away quickly (common practice)
            share = min(-found.amps / self.amp_hours / 0.05, 1.0)
            lag = lag / (1.0 + 15.0 * share)
        self.surface += (target - self.surface) * seconds / lag

    def _warm(self, found: Balance, branch: Branch, air_celsius: float) -> None:
        size = self.model.amp_hours / 100.0 * self.model.nominal_volts / 12.0
        over = found.inner - branch.volts
        watts = found.amps * found.amps * branch.ohms * (1.0 + _QUICK_SHARE)
        watts += found.main * over
        carried = (1.0 - self.cell.recombines) * _GAS_CARRIES_VOLTS * (self.cells - self.shorted)
        watts += found.gas * (found.inner - carried)
        if self.short_joules > 0.0:
            burned = min(self.short_joules, self.short_joules * self.step_seconds / _SHORT_SECONDS)
            self.short_joules -= burned
            watts += burned / self.step_seconds
        lost = _WATTS_PER_KELVIN * size * self.cooling * (self.celsius - air_celsius)
        self.celsius += (watts - lost) * self.step_seconds / (_JOULES_PER_KELVIN * size)
        self.celsius = min(self.celsius, _BOILS_CELSIUS)

    def short_a_cell(self) -> None:
        """One cell goes: its volts are gone at once, its energy turns to heat."""
        before = self.cells - self.shorted
        self.shorted += 1
        self.inner *= (before - 1) / before
        self.quick = 0.0
        self.short_joules += 2.0 * self.charge * self.amp_hours * 3600.0

    def halves(self, posts: float) -> tuple[float, float]:
        """Lower and upper half-bank volts; a shorted cell and a weak half lie in the lower one."""
        cells = self.cells - self.shorted
        upper = posts * (self.cells / 2) / cells
        return posts - upper, upper
