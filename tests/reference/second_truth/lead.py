"""A lead-acid bank on NREL-PySAM's `BatteryStateful`: the kinetic model keeps the charge.

The library holds the two tanks (Manwell and McGowan's kinetic model), the capacity at three rates,
the table of open-circuit voltage and the lumped temperature. Its loss of capacity with temperature
is switched off, because it caps what a charge can reach. Added here, because the library has no
charging voltage of its own:

* concentration overpotential in its textbook form, -(2RT/F) ln(1 - I / I_limit), where the
  limiting current is the kinetic model's own: what would fill the available tank in an hour
  (Manwell and McGowan's I_cmax; the hour is our assumption). It fades with half an hour's time
  constant when the current stops (common practice: surface charge fades over hours);
* the table of open-circuit voltage lifted by a constant, so that full reads as in the BCI table
  (as it stands it lies 0.18 V per 12 V below);
* a gas current, tenfold per 0.2 V and doubling per 10 °C (common practice).

State of charge is counted against the 20 h capacity: what the kinetic model holds beyond it cannot
be had at that rate.
"""

from __future__ import annotations

import math

import PySAM.BatteryStateful as library

TWO_RT_OVER_F = 2 * 8.314462618 * 298.15 / 96485.33212
FADE_SECONDS = 1800.0
HORIZON_HOURS = 1.0
IDLE_AMPS_PER_AMP_HOUR = 0.001  # below this, what was built up only fades


FULL_REST_VOLTS = 12.65 / 6  # per cell, BCI table (secondary copies), flooded and rested


class LeadBank:
    """`amps > 0` charges. One `step` is one call of the library."""

    def __init__(
        self,
        cells: int,
        amp_hours: float,
        soc: float,
        celsius: float,
        milliohms_per_cell: float,
        gas_amps_per_amp_hour: float,
        seconds: float,
    ) -> None:
        self.cells, self.amp_hours, self.seconds = cells, amp_hours, seconds
        self.ohms = milliohms_per_cell * 1e-3 * cells
        self.gas_at_float = gas_amps_per_amp_hour * amp_hours
        self.over_volts = 0.0
        model = library.default("LeadAcid")
        model.Controls.control_mode = 0
        model.Controls.dt_hr = seconds / 3600
        model.Controls.input_current = 0
        model.ParamsCell.Qfull = amp_hours
        model.ParamsCell.leadacid_q20 = amp_hours
        model.ParamsCell.leadacid_q10 = 0.93 * amp_hours
        model.ParamsCell.leadacid_qn = 0.60 * amp_hours
        model.ParamsCell.leadacid_tn = 1
        model.ParamsCell.resistance = 1e-6
        model.ParamsPack.nominal_voltage = 2.0 * cells
        model.ParamsPack.nominal_energy = 2e-3 * cells * amp_hours
        model.ParamsPack.T_room_init = celsius
        model.ParamsPack.cap_vs_temp = ((-20.0, 100.0), (60.0, 100.0))
        model.ParamsCell.minimum_SOC, model.ParamsCell.maximum_SOC = 1, 100
        model.ParamsCell.initial_SOC = 50
        model.setup()
        self.whole = model.StateCell.qmax_lifetime
        model.ParamsCell.initial_SOC = 100 * (soc * amp_hours + self.whole - amp_hours) / self.whole
        model.setup()
        self.model = model
        self.shift = FULL_REST_VOLTS - model.ParamsCell.voltage_matrix[-1][1]
        self.share = model.StateCell.q1_0 / model.StateCell.q0
        self.rate = self._tank_rate()

    def _tank_rate(self) -> float:
        """The kinetic model's k per hour, from its capacity at the 20 h rate, by bisection."""

        def had(k: float) -> float:
            x, c = 20 * k, self.share
            return self.whole * x * c / (1 - math.exp(-x) + c * (x - 1 + math.exp(-x)))

        low, high = 1e-3, 50.0
        for _ in range(80):
            k = math.sqrt(low * high)
            low, high = (k, high) if had(k) < self.amp_hours else (low, k)
        return math.sqrt(low * high)

    @property
    def soc(self) -> float:
        return min(1.0, 1 - (self.whole - self.model.StateCell.q0) / self.amp_hours)

    @property
    def celsius(self) -> float:
        return float(self.model.StatePack.T_batt)

    def limit_amps(self) -> float:
        """What would fill the available tank in an hour."""
        k, c, t = self.rate, self.share, HORIZON_HOURS
        fade = math.exp(-k * t)
        cell = self.model.StateCell
        room = k * c * self.whole - k * cell.q1_0 * fade - cell.q0 * k * c * (1 - fade)
        return max(1e-3, room / (1 - fade + c * (k * t - 1 + fade)))

    def gas_amps(self, volts: float) -> float:
        per_cell = volts / self.cells
        if per_cell < 2.1:
            return 0.0
        warm = 2 ** ((self.celsius - 25) / 10)
        return self.gas_at_float * warm * 10 ** ((per_cell - 2.23) / 0.2)

    def _rest_volts(self) -> float:
        return float(self.cells * (self.model.StateCell.cell_voltage + self.shift))

    def _volts(self, amps: float, gas: float) -> float:
        """Posts at `amps`, of which `gas` is lost."""
        idle = amps - gas < IDLE_AMPS_PER_AMP_HOUR * self.amp_hours
        faded = self.over_volts * math.exp(-self.seconds / FADE_SECONDS) if idle else 0.0
        part = min(0.9999, max(0.0, amps - gas) / self.limit_amps())
        over = max(faded, -self.cells * TWO_RT_OVER_F * math.log(1 - part))
        return self._rest_volts() + over + amps * self.ohms

    def amps_to_hold(self, volts: float, lowest: float, highest: float) -> float:
        """The net current, between two limits, at which the posts stand at `volts`."""
        gas = self.gas_amps(volts)
        low, high = lowest, highest
        for _ in range(50):
            middle = (low + high) / 2
            low, high = (low, middle) if self._volts(middle, gas) > volts else (middle, high)
        return high if high == highest else low

    def step(self, amps: float) -> float:
        """Pass `amps` for one step; returns the volts at the posts."""
        low, high = self.cells * 1.5, self.cells * 3.0
        for _ in range(50):
            volts = (low + high) / 2
            gas = min(self.gas_amps(volts), max(amps, 0.0))
            low, high = (volts, high) if self._volts(amps, gas) > volts else (low, volts)
        self.over_volts = max(0.0, volts - amps * self.ohms - self._rest_volts())
        self.model.Controls.input_current = -(amps - gas)
        self.model.execute(0)
        return volts
