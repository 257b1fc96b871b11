"""An LFP bank on PyBaMM: the single-particle model with the parameter set Prada2013.

One cell is solved and scaled to the bank; a contact resistance stands for straps and posts.
"""

from __future__ import annotations

import pybamm


class LfpBank:
    """`amps > 0` charges. One `step` is one step of the solver. 0..1 is 2.0 to 3.6 V at rest."""

    def __init__(
        self,
        cells: int,
        amp_hours: float,
        soc: float,
        celsius: float,
        milliohms_per_cell: float,
        seconds: float,
    ) -> None:
        self.cells, self.amp_hours, self.seconds, self.celsius = cells, amp_hours, seconds, celsius
        self.ohms = milliohms_per_cell * 1e-3 * cells
        parameters = pybamm.ParameterValues("Prada2013")
        parameters["Current function [A]"] = "[input]"
        parameters["Ambient temperature [K]"] = 273.15 + celsius
        symbols = pybamm.LithiumIonParameters()
        found = pybamm.lithium_ion.ElectrodeSOHSolver(parameters).solve(
            {
                "Q_n": parameters.evaluate(symbols.n.Q_init),
                "Q_p": parameters.evaluate(symbols.p.Q_init),
                "Q_Li": parameters.evaluate(symbols.Q_Li_particles_init),
            }
        )
        self.scale = float(found["Q"]) / amp_hours
        self.simulation = pybamm.Simulation(pybamm.lithium_ion.SPM(), parameter_values=parameters)
        self.simulation.build(initial_soc=soc, inputs={"Current function [A]": 0.0})
        self.initial_soc, self.passed_amp_hours = soc, 0.0
        self.volts, self.amps = 0.0, 0.0

    @property
    def soc(self) -> float:
        return min(1.0, self.initial_soc + self.passed_amp_hours / self.amp_hours)

    def amps_to_hold(self, volts: float, lowest: float, highest: float) -> float:
        """A regulator: from the last step's volts by the small-signal resistance, within limits."""
        stiff = self.ohms + self.cells * 25.7e-3 * 2 / (0.2 * self.amp_hours)
        return min(highest, max(lowest, self.amps + 0.5 * (volts - self.volts) / stiff))

    def step(self, amps: float) -> float:
        solution = self.simulation.step(
            self.seconds, inputs={"Current function [A]": -amps * self.scale}, save=False
        )
        self.passed_amp_hours += amps * self.seconds / 3600
        cell = float(solution["Terminal voltage [V]"].entries[-1])
        self.volts, self.amps = cell * self.cells + amps * self.ohms, amps
        return self.volts
