"""A charger against a bank: how many amps, and how long they take, by the engine's own forecast.

Hours come from `engine.charge_run`: the circuit whose priors four published, measured charges
fitted, run until the end-of-charge current. The rule of IEEE 946's form, A = 1.1 C / H + L, stands
beside it as a second opinion: it knows nothing of a tapering current.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from monitor.bank import REFERENCE_CELSIUS, Bank, compensated
from monitor.engine.cell import POLARISATION_HOURS, Circuit
from monitor.engine.charge_run import Course, Goal, run

#: Recharge factor of the rule: amp-hours in for amp-hours out (form of IEEE 946).
RULE_FACTOR: Final = 1.1
#: Least amps worth having, a fraction of the 20 h capacity (common practice: flooded 10 to 13 %;
#: sealed alike; LFP takes less without harm).
LEAST: Final[dict[str, float]] = {
    "flooded": 0.10, "lead-calcium": 0.10, "gel": 0.10, "agm": 0.10, "lfp": 0.05,
}  # fmt: skip
#: A place to start: flooded 13 %, AGM and gel 20 % (common practice), LFP 30 % (common practice).
USUAL: Final[dict[str, float]] = {
    "flooded": 0.13, "lead-calcium": 0.13, "gel": 0.20, "agm": 0.20, "lfp": 0.30,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class ChargeCurrent:
    """What the bank wants of its sources together, amps into the bank."""

    least: float
    usual: float
    most: float


@dataclass(frozen=True, slots=True)
class ChargeTime:
    """A charge on paper. `amps` into the bank at first; None where 48 h are not enough.

    Full is the end-of-charge current. `timer_soc`: where an absorption timer of the set-points ends
    the charge before that, the charge that it leaves.
    """

    amps: float
    hours_to_held: float | None
    soc_at_held: float | None
    hours_to_full: float | None
    amp_hours: float
    rule_hours: float | None
    timer_soc: float | None = None


def charge_current(bank: Bank) -> ChargeCurrent:
    """Amps by capacity and chemistry: 400 Ah of AGM -> 40, 80 and 120 A."""
    name, size = bank.chemistry.name, bank.amp_hours
    return ChargeCurrent(LEAST[name] * size, USUAL[name] * size, bank.chemistry.charge_amps * size)


def rule_amps(missing_amp_hours: float, hours: float, loads_amps: float = 0.0) -> float:
    """IEEE 946's form, A = 1.1 C / H + L: 200 Ah in 10 h with 5 A of loads -> 27 A."""
    return RULE_FACTOR * missing_amp_hours / hours + loads_amps


def rule_hours(missing_amp_hours: float, amps: float, loads_amps: float = 0.0) -> float | None:
    """The same turned round; None where the loads take all."""
    net = amps - loads_amps
    return RULE_FACTOR * missing_amp_hours / net if net > 0.0 else None


def _target(bank: Bank, celsius: float, volts: float | None) -> float:
    """Volts of a cell that the source holds at this temperature."""
    target = volts or bank.set_points.absorption or bank.chemistry.absorption.typical * bank.cells
    mv = bank.set_points.compensation_mv_per_celsius_per_cell
    if mv is None:
        mv = bank.chemistry.compensation_mv.typical
    clamp = bank.set_points.compensation_celsius or bank.chemistry.compensation_celsius
    return compensated(target, celsius, mv, bank.cells, clamp) / bank.cells


def charge_time(
    bank: Bank,
    amps: float,
    from_soc: float,
    celsius: float = REFERENCE_CELSIUS,
    loads_amps: float = 0.0,
    volts: float | None = None,
) -> ChargeTime:
    """One source (or several that hold alike) of `amps`, loads running all the while.

    `volts` is its absorption at 25 °C; left out, the bank's own set-point, else what is typical.
    """
    net = amps - loads_amps
    missing = (1.0 - from_soc) * bank.amp_hours
    by_rule = rule_hours(missing, amps, loads_amps)
    if net <= 0.0:
        return ChargeTime(net, None, None, None, 0.0, None)

    def course(hold_hours: float | None) -> Course:
        return run(
            Circuit(bank.chemistry),
            from_soc,
            0.0,
            _target(bank, celsius, volts),
            celsius,
            lambda _hours: net / bank.amp_hours,
            Goal(bank.end_of_charge_amps / bank.amp_hours, hold_hours),
        )

    whole, timer = course(None), bank.set_points.absorption_hours
    early = None
    if timer is not None:
        ended = course(timer)
        shorter = ended.hours is not None and (whole.hours is None or ended.hours < whole.hours)
        early = ended.soc if shorter else None
    drawn = whole.charge * bank.amp_hours
    return ChargeTime(net, whole.held_hours, whole.held_soc, whole.hours, drawn, by_rule, early)


def two_sources(
    bank: Bank,
    higher: tuple[float, float],
    lower: tuple[float, float],
    from_soc: float,
    celsius: float = REFERENCE_CELSIUS,
    loads_amps: float = 0.0,
) -> ChargeTime:
    """Two in parallel, each (amps, absorption volts at 25 °C), `higher` with the higher set-point.

    Both give all until the lower set-point; the bank is held there by both until the higher one
    alone can carry it on; then the lower one gives nothing and the other finishes. Where the higher
    one has not even enough for the loads and the last amps, the bank is filled at the lower
    set-point: the other one's never comes.
    """
    both = higher[0] + lower[0] - loads_amps
    alone = higher[0] - loads_amps
    missing = (1.0 - from_soc) * bank.amp_hours
    by_rule = rule_hours(missing, higher[0] + lower[0], loads_amps)
    if both <= 0.0:
        return ChargeTime(both, None, None, None, 0.0, by_rule)
    size = bank.amp_hours
    end = bank.end_of_charge_amps / size
    circuit = Circuit(bank.chemistry)
    first = run(
        circuit,
        from_soc,
        0.0,
        _target(bank, celsius, lower[1]),
        celsius,
        lambda _hours: both / size,
        Goal(max(end, alone / size)),
    )
    if first.hours is None or alone / size <= end:
        drawn = first.charge * size
        return ChargeTime(both, first.held_hours, first.held_soc, first.hours, drawn, by_rule)
    level = circuit.traits.polarisation
    built = level * (1.0 - math.exp(-first.hours / POLARISATION_HOURS))
    second = run(
        circuit,
        first.soc,
        built,
        _target(bank, celsius, higher[1]),
        celsius,
        lambda _hours: alone / size,
        Goal(end),
    )
    hours = None if second.hours is None else first.hours + second.hours
    drawn = (first.charge + second.charge) * size
    return ChargeTime(both, first.held_hours, first.held_soc, hours, drawn, by_rule)
