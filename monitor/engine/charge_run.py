"""A charge run forward: how long, how far, when the source begins to hold its voltage.

The same circuit that the charge filter learns from, driven by a supply that gives what it can until
the held voltage is reached and what the cell accepts from then on, until the first criterion of
full is met. Pure; `charge_run` answers the same question for a bank on paper.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final, NamedTuple

from monitor.bank import REFERENCE_CELSIUS, Bank, compensated
from monitor.engine.cell import POLARISATION_HOURS, Circuit

STEP_SOC: Final = 0.01  # coarse: a step moves at most a hundredth of the capacity ...
STEP_MISSING: Final = 0.08  # ... or a twelfth of what is missing ...
LEAST_HOURS: Final = 1.0 / 240.0
MOST_HOURS: Final = 0.1  # ... and lasts six minutes at most, longer only far ahead
HORIZON_HOURS: Final = 48.0


class Goal(NamedTuple):
    """When a charge counts as full, whichever comes first; rates per usable capacity and hour."""

    end_rate: float | None = None
    hold_hours: float | None = None
    soc: float | None = None


class Course(NamedTuple):
    """How a charge goes. `hours` None where the horizon came first; `held_*` None if never held."""

    hours: float | None
    soc: float
    held_hours: float | None
    held_soc: float | None
    charge: float


def run(
    circuit: Circuit,
    soc: float,
    polarisation: float,
    volts: float,
    celsius: float,
    supply: Callable[[float], float],
    goal: Goal,
    horizon_hours: float = HORIZON_HOURS,
) -> Course:
    """Charge at `supply(hours)` (a net rate) up to `volts` per cell, and hold until the goal.

    `charge` is what went in, as a fraction of the usable capacity, gas included.
    """
    hours = 0.0
    charge = 0.0
    held_hours: float | None = None
    held_soc: float | None = None
    holding = 0.0
    level = circuit.traits.polarisation
    while hours < horizon_hours:
        able = supply(hours)
        net = circuit.held(soc, polarisation, volts, celsius)
        share = 1.0 + circuit.share(soc)
        if net <= able:
            gas = circuit.gas(volts, celsius)
            if held_hours is None:
                held_hours, held_soc = hours, soc
            if goal.end_rate is not None and net <= goal.end_rate:
                return Course(hours, soc, held_hours, held_soc, charge)
        else:
            net = able
            reached = circuit.volts(soc, polarisation, able / share)
            gas = min(circuit.gas(min(reached, volts), celsius), max(0.0, able))
        if goal.soc is not None and soc >= goal.soc:
            return Course(hours, soc, held_hours, held_soc, charge)
        if goal.hold_hours is not None and held_hours is not None and holding >= goal.hold_hours:
            return Course(hours, soc, held_hours, held_soc, charge)
        stored = (net - gas) / share if net > 0.0 else net
        step = MOST_HOURS * (1.0 + 0.1 * hours)
        if stored > 0.0:
            step = min(step, STEP_SOC / stored, max(1.0 - soc, 3e-4) * STEP_MISSING / stored)
            step = max(step, LEAST_HOURS)
        if goal.hold_hours is not None and held_hours is not None:
            step = min(step, max(goal.hold_hours - holding, 1e-4))
        soc = min(1.0, max(0.0, soc + stored * step))
        charge += net * step
        polarisation = level + (polarisation - level) * math.exp(-step / POLARISATION_HOURS)
        hours += step
        if held_hours is not None:
            holding += step
    return Course(None, soc, held_hours, held_soc, charge)


class ChargeRun(NamedTuple):
    """A charge on paper: hours to the held voltage and to full, the fraction of charge at both."""

    hours_to_held: float | None
    soc_at_held: float | None
    hours_to_full: float | None
    soc_at_full: float
    amp_hours: float


def charge_run(
    bank: Bank,
    soc: float,
    amps: float,
    celsius: float = REFERENCE_CELSIUS,
    absorption_volts: float | None = None,
    end_amps: float | None = None,
) -> ChargeRun:
    """Charge a healthy bank from `soc` with a source of `amps`, from the priors alone.

    `absorption_volts` of the whole bank at 25 °C; where not given the bank's set-point, else what
    is typical. 95.7 Ah of AGM from 49.5 % at 0.2 C: held at 76 %, full after 5.7 h.
    """
    chemistry = bank.chemistry
    target = absorption_volts or bank.set_points.absorption
    if target is None:
        target = chemistry.absorption.typical * bank.cells
    mv = bank.set_points.compensation_mv_per_celsius_per_cell
    if mv is None:
        mv = chemistry.compensation_mv.typical
    target = compensated(target, celsius, mv, bank.cells, chemistry.compensation_celsius)
    end = end_amps or bank.set_points.end_of_charge_amps
    rate = amps / bank.amp_hours
    course = run(
        Circuit(chemistry),
        soc,
        0.0,
        target / bank.cells,
        celsius,
        lambda _hours: rate,
        Goal(
            chemistry.end_of_charge if end is None else end / bank.amp_hours,
            bank.set_points.absorption_hours,
        ),
    )
    return ChargeRun(
        course.held_hours, course.held_soc, course.hours, course.soc, course.charge * bank.amp_hours
    )
