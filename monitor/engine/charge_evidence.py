"""What one minute's current or voltage says of the charge filter's unknowns, linearised.

Pure. Each function gives (row, residual, error): the derivative of the expected figure by each
unknown, what was seen less what was expected, and the standard deviation of the circuit's error.
"""

from __future__ import annotations

import math
from typing import Final

from monitor.engine.cell import GAS_DOUBLING_CELSIUS, MISSING_FLOOR, Circuit
from monitor.engine.unknowns import CAPACITY, OFFSET, POLARISATION, SOC

STORED_ERROR: Final = 0.03  # of the stored rate: the law of acceptance is only roughly right (ours)
GAS_ERROR: Final = 0.10  # of the gas rate (ours)
LEAST_ERROR: Final = 0.0003  # of the label, each hour
CHARGED_RATE: Final = 0.005  # of the label: below, nothing charges
LEAST_MISSING: Final = 3e-4  # the slope of the acceptance so near to full means nothing
#: LFP's knees: above, nearly full; below, nearly empty (three published curves, handbook of cells).
KNEE_VOLTS: Final = (3.10, 3.40)
FULL_KNEE: Final = (0.98, 0.012)
EMPTY_KNEE: Final = (0.08, 0.06)

GASSING_DRIFT: Final = 0.03  # of the log of the gas, root hour of charging (ours)
#: A bank whose temperature nobody measures stands within this of 25 °C (from memory: a locker of a
#: coach), and moves by as much from morning to afternoon.
UNKNOWN_CELSIUS: Final = 10.0
UNKNOWN_HOURS: Final = 6.0
UNKNOWN_AFTER: Final = 3600.0  # seconds without a temperature
#: What that makes of the log of the gas: the variance.
UNKNOWN_GAS: Final = (UNKNOWN_CELSIUS * math.log(2.0) / GAS_DOUBLING_CELSIUS) ** 2

News = tuple[list[float], float, float]


def gas_drift(seconds_without: float, hours: float) -> float:
    """What `hours` of charging add to the variance of the log of the gas, the last temperature
    having come so many seconds ago."""
    doubt = UNKNOWN_GAS / UNKNOWN_HOURS if seconds_without > UNKNOWN_AFTER else 0.0
    return (GASSING_DRIFT**2 + doubt) * hours


def charging_current(
    mean: list[float], circuit: Circuit, rate: float, volts: float, celsius: float, unsettled: float
) -> News:
    """While a source charges at `volts` per cell: the net `rate` that this should draw."""
    soc = mean[SOC]
    missing = max(1.0 - soc, MISSING_FLOOR)
    push = volts - circuit.curve.at(soc) - mean[POLARISATION]
    stored, conductance = circuit.accept(soc, push)
    share = 1.0 + circuit.share(soc)
    gas = circuit.gas(volts, celsius)
    bend = circuit.power / max(missing, LEAST_MISSING) + circuit.fresh / (
        1.0 + missing * circuit.fresh
    )
    # the part of a change of acceptance that shows, with the ohmic part in series
    shown = stored * (1.0 - conductance * circuit.ohmic)
    per_label = math.exp(-mean[CAPACITY])
    offset = mean[OFFSET] * per_label
    row = [
        -share * (circuit.curve.slope(soc) * conductance + shown * bend),
        -share * conductance,
        -share * shown,
        share * shown * math.log(missing),
        gas,
        per_label,
        rate - offset,
        0.0,
    ]
    residual = rate - (stored * share + gas + offset)
    error = STORED_ERROR * stored + GAS_ERROR * gas + LEAST_ERROR + conductance * unsettled
    return row, residual, error


def standing_voltage(
    mean: list[float], circuit: Circuit, label_rate: float, volts: float, unsettled: float
) -> News:
    """At rest or under a load of `label_rate`: the volts at which a cell this full should stand."""
    per_label = math.exp(-mean[CAPACITY])
    rate = (label_rate - mean[OFFSET]) * per_label
    slope = circuit.curve.slope(mean[SOC])
    row = [slope, 1.0, 0.0, 0.0, 0.0, -per_label * circuit.ohmic, -rate * circuit.ohmic, 0.0]
    expected = circuit.curve.at(mean[SOC]) + mean[POLARISATION] + rate * circuit.ohmic
    return row, volts - expected, circuit.traits.rest_sd + unsettled


def first_charge(circuit: Circuit, volts: float, rate: float) -> tuple[float, float]:
    """The very first reading: fraction of charge and its sd by what its voltage alone can say."""
    if rate > CHARGED_RATE:
        soc, sd = 0.6, 0.2
        for _ in range(6):
            stored = rate / (1.0 + circuit.share(soc))
            rest = volts - (circuit.volts(soc, 0.0, stored) - circuit.curve.at(soc))
            soc = min(0.95, max(0.05, 0.5 * (soc + circuit.curve.soc(rest))))
    else:
        rest = volts - rate * (circuit.ohmic + 0.5 * circuit.traits.sag)
        soc = circuit.curve.soc(rest)
        slope = max(0.02, circuit.curve.slope(soc))
        sd = min(0.3, (0.004 + circuit.traits.rest_sd - 0.3 * min(0.0, rate)) / slope)
    return soc, sd if circuit.lead else max(sd, 0.2)


def lithium_knee(rested: float, rate: float) -> tuple[float, float] | None:
    """LFP's charge and its sd at the knees of its curve; None on the long plateau between."""
    if rested > KNEE_VOLTS[1] and rate > 0.0:
        return FULL_KNEE
    return EMPTY_KNEE if rested < KNEE_VOLTS[0] else None
