"""The ways that things may truly be, and an answer asked of each: where intervals come from.

What the charge filter believes has directions of uncertainty; loads, sun, resistance and set-point
have their own. A question is a function of one `Point`; `likely` asks it in the middle and two
standard deviations along every direction, both ways, and adds what came of each.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final, NamedTuple

from monitor.engine.by_hour import HOUR_SECONDS, Total
from monitor.engine.cell import Circuit
from monitor.engine.charge_run import HORIZON_HOURS, Course, Goal, run
from monitor.engine.outlook import Outlook
from monitor.engine.unknowns import (
    ACCEPTANCE,
    CAPACITY,
    GASSING,
    OFFSET,
    POLARISATION,
    POWER,
    SAG,
    SOC,
)

#: An interval spans this many standard deviations each way, as everywhere.
WIDTH: Final = 2.0


class Likely(NamedTuple):
    """A figure with the interval that holds the truth 19 times in 20."""

    figure: float
    low: float
    high: float

    def scaled(self, factor: float) -> Likely:
        return Likely(self.figure * factor, self.low * factor, self.high * factor)

    def within(self, low: float, high: float) -> Likely:
        """Held to what can be at all."""
        return Likely(*(min(max(value, low), high) for value in self))


class Point(NamedTuple):
    """One way that things may truly be: a circuit, its charge, and how loads and sun turn out.

    `offset_amps` more than was believed flows out unseen; `sag` volts per unit rate and cell;
    `ohms` of the whole bank, None where only the circuit's are known. In standard deviations from
    the usual: `load`, `sun`, the source's `lead`, and how `hard` the bank gives at high rates.
    """

    circuit: Circuit
    soc: float
    polarisation: float
    amp_hours: float
    offset_amps: float
    sag: float
    ohms: float | None
    held_volts: float
    load: float = 0.0
    sun: float = 0.0
    lead: float = 0.0
    hard: float = 0.0


class Error(NamedTuple):
    """What the model errs by, as standard deviations: a share of the answer, and a floor."""

    share: float = 0.0
    floor: float = 0.0


def likely(
    view: Outlook, ask: Callable[[Point], tuple[float, ...]], *errors: Error
) -> tuple[Likely, ...]:
    """Each of the answers that `ask` gives, with its interval; `errors` in the same order."""
    middles = ask(point_of(view))
    downs = [0.0] * len(middles)
    for n, error in enumerate(errors):
        downs[n] = (WIDTH * error.share * middles[n]) ** 2 + (WIDTH * error.floor) ** 2
    ups = list(downs)
    for point in _around(view):
        for n, answer in enumerate(ask(point)):
            off = answer - middles[n]
            (downs if off < 0.0 else ups)[n] += off * off
    return tuple(
        Likely(middle, middle - math.sqrt(down), middle + math.sqrt(up))
        for middle, down, up in zip(middles, downs, ups, strict=True)
    )


def point_of(view: Outlook) -> Point:
    """The middle of all that is believed."""
    return _point(view, view.mean)


def _around(view: Outlook) -> list[Point]:
    points = []
    centre = point_of(view)
    for sign in (WIDTH, -WIDTH):
        for column in view.directions:
            moved = [mean + sign * step for mean, step in zip(view.mean, column, strict=True)]
            points.append(_point(view, tuple(moved)))
        figure, sd = view.ohms.figure, view.ohms.sd
        if figure is not None and sd is not None:
            points.append(centre._replace(ohms=max(0.1 * figure, figure + sign * sd)))
        volts_sd = view.held_volts.sd or 0.0
        points.append(centre._replace(held_volts=centre.held_volts + sign * volts_sd))
        points.append(centre._replace(load=sign))
        points.append(centre._replace(sun=sign))
        points.append(centre._replace(lead=sign))
        points.append(centre._replace(hard=sign))
    return points


def _point(view: Outlook, values: tuple[float, ...]) -> Point:
    circuit = Circuit(view.bank.chemistry)
    circuit.acceptance = math.exp(values[ACCEPTANCE])
    circuit.power = min(max(values[POWER], 0.2), 1.4)  # as the charge filter bounds it
    circuit.gassing = math.exp(values[GASSING])
    circuit.ohmic = view.ohmic
    label = view.bank.amp_hours
    return Point(
        circuit=circuit,
        soc=min(1.0, max(0.0, values[SOC])),
        polarisation=values[POLARISATION],
        amp_hours=label * math.exp(values[CAPACITY]),
        offset_amps=(values[OFFSET] - view.mean[OFFSET]) * label,
        sag=circuit.traits.sag * math.exp(values[SAG]),
        ohms=view.ohms.figure,
        held_volts=view.held_volts.figure or view.bank.chemistry.absorption.typical,
    )


def net_rate(
    view: Outlook, point: Point, start: float, end: float, *, sunny: bool
) -> Callable[[float], float]:
    """What sun (where it is `sunny`) and loads leave for the bank, as a rate, by hours since
    `start`.

    Deviations of loads and sun are those of the whole stretch to `end`, spread evenly over it.
    """
    bank, circuit = view.bank, point.circuit
    load = max(0.0, 1.0 + point.load * _share(view.load_between(start, end)))
    sun = max(0.0, 1.0 + point.sun * _share(view.sun_between(start, end))) if sunny else 0.0
    rest = bank.cells * circuit.curve.at(point.soc)
    charged = 0.5 * (rest + bank.cells * point.held_volts)
    unseen = (bank.standing_amps or 0.0) + point.offset_amps

    def rate(hours: float) -> float:
        moment = start + hours * HOUR_SECONDS
        watts = sun * view.sun_at(moment) - load * view.load_at(moment)
        amps = watts / (charged if watts > 0.0 else rest) - unseen
        return amps / point.amp_hours

    return rate


def course(
    view: Outlook,
    point: Point,
    rate: Callable[[float], float],
    goal: Goal,
    hours: float = HORIZON_HOURS,
) -> Course:
    """The bank run forward at a net rate for so many hours, or until the goal."""

    def supply(at: float) -> float:
        return rate(at) if at < hours else 0.0

    return run(
        point.circuit,
        point.soc,
        point.polarisation,
        point.held_volts,
        view.working_celsius,
        supply,
        goal,
        hours,
    )


def _share(total: Total | None) -> float:
    """The deviation of a total as a share of it."""
    return total.sd / total.figure if total is not None and total.figure > 0.0 else 0.0
