"""What the drop of its cable does to a charge: the engine's own circuit run with it and without.

A charger regulates at its own terminals unless it has sense leads at the posts. Seen from there the
cable is one more resistance in front of the cells: the charger's voltage is reached earlier, the
current begins to fall earlier, and full comes later. Where absorption ends by a timer that runs
from that moment, the charge ends *early*, with less in the bank. (Loads at the bank are left out:
they add their own drop.)
"""

from __future__ import annotations

from dataclasses import dataclass

from monitor.bank import REFERENCE_CELSIUS, Bank, compensated
from monitor.engine.cell import Circuit
from monitor.engine.charge_run import Course, Goal, run


@dataclass(frozen=True, slots=True)
class DropInCharging:
    """Without cable (`ideal`) and with it: hours to the held voltage and to full, SOC 0..1.

    `timer_*` where absorption ends by a timer: the charge at its end. None where 48 h are not
    enough or no timer was given.
    """

    ideal_held_soc: float | None
    held_soc: float | None
    ideal_hours: float | None
    hours: float | None
    timer_hours: float | None = None
    ideal_timer_soc: float | None = None
    timer_soc: float | None = None

    @property
    def longer_hours(self) -> float | None:
        if self.hours is None or self.ideal_hours is None:
            return None
        return max(0.0, self.hours - self.ideal_hours)


def drop_in_charging(
    bank: Bank,
    amps: float,
    ohms: float,
    from_soc: float = 0.5,
    celsius: float = REFERENCE_CELSIUS,
    timer_hours: float | None = None,
) -> DropInCharging:
    """A charge from `from_soc` at `amps`, through `ohms` there and back, regulated at the source.

    The bank is a healthy one of its chemistry; set-points as in the bank, else typical.
    """
    chemistry = bank.chemistry
    target = bank.set_points.absorption or chemistry.absorption.typical * bank.cells
    mv = bank.set_points.compensation_mv_per_celsius_per_cell
    if mv is None:
        mv = chemistry.compensation_mv.typical
    clamp = bank.set_points.compensation_celsius or chemistry.compensation_celsius
    volts = compensated(target, celsius, mv, bank.cells, clamp) / bank.cells
    end = bank.end_of_charge_amps / bank.amp_hours

    def course(extra_ohms: float, hold_hours: float | None) -> Course:
        circuit = Circuit(chemistry)
        # volts of a cell for each unit of rate: the cable stands before all cells in series
        circuit.ohmic += extra_ohms * bank.amp_hours / bank.cells
        goal = Goal(end if hold_hours is None else None, hold_hours)
        rate = amps / bank.amp_hours
        return run(circuit, from_soc, 0.0, volts, celsius, lambda _hours: rate, goal)

    ideal, real = course(0.0, None), course(ohms, None)
    if timer_hours is None:
        return DropInCharging(ideal.held_soc, real.held_soc, ideal.hours, real.hours)
    return DropInCharging(
        ideal.held_soc,
        real.held_soc,
        ideal.hours,
        real.hours,
        timer_hours,
        course(0.0, timer_hours).soc,
        course(ohms, timer_hours).soc,
    )
