"""A block of counted charge: how it carries the charge filter's belief along in time.

The filter's step without a measurement. Charge is counted, less what gas, the offset of the sensor
and standing loads take; the slow polarisation builds or fades; what the bank is becomes a little
less certain. What the voltage of the block says of all this is asked afterwards
(`charge_evidence.py`).
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from monitor.bank import Bank
from monitor.engine.cell import POLARISATION_HOURS, Circuit
from monitor.engine.charge_evidence import gas_drift
from monitor.engine.gaussian import Gaussian
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

# Drifts without a source are our own judgement, chosen on more than one generator of truth; none
# belongs to one capture.
ACCEPTANCE_DRIFT: Final = 0.03  # of the log, root hour of charging
POWER_DRIFT: Final = 0.05
OFFSET_DRIFT: Final = 1e-5
CHARGED_SD: Final = 0.012  # volts per cell: the polarisation is only roughly known ...
RESTED_SD: Final = 0.004  # ... better at rest ...
LOADED_SD: Final = 0.06  # ... and worse by this per unit rate of discharge
HELD_PUSH: Final = 0.05  # volts per cell above rest
HOURS_PER_MONTH: Final = 730.0


class Block(NamedTuple):
    """What flowed for `hours`: mean `amps` into the bank at mean `volts` per cell.

    `seconds_without` a temperature have passed since `celsius` was told; `charging`: by the stage.
    """

    hours: float
    amps: float
    volts: float
    celsius: float
    seconds_without: float
    charging: bool


def count(belief: Gaussian, circuit: Circuit, bank: Bank, block: Block) -> None:
    """Count the charge of a block and let the polarisation build or fade."""
    mean = belief.mean
    hours, volts = block.hours, block.volts
    per_label = math.exp(-mean[CAPACITY])
    standing = bank.standing_amps or 0.0
    rate = ((block.amps - standing) / bank.amp_hours - mean[OFFSET]) * per_label
    gas = circuit.gas(volts, block.celsius) if rate > 0.0 else 0.0
    share = circuit.share(mean[SOC]) if rate > gas else 0.0
    stored = (rate - gas) / (1.0 + share)
    if stored < 0.0 and (rate > 0.0 or _held(circuit, mean[SOC], block)):
        stored, gas, rate = 0.0, 0.0, 0.0
    move = hours / (1.0 + share)
    belief.move(
        SOC,
        [(CAPACITY, -rate * move), (OFFSET, -per_label * move), (GASSING, -gas * move)],
    )
    moved = stored * hours
    moved -= bank.chemistry.self_discharge_per_month * hours / HOURS_PER_MONTH
    belief.spread(SOC, 2e-5 * abs(moved) + 0.002 * share * abs(moved))
    mean[SOC] = min(1.0, max(0.0, mean[SOC] + moved))
    if block.charging:
        level, floor = circuit.traits.polarisation, CHARGED_SD
    else:
        level = circuit.traits.sag * math.exp(mean[SAG]) * min(0.0, rate)
        floor = RESTED_SD + LOADED_SD * abs(rate)
    keep = math.exp(-hours / POLARISATION_HOURS)
    mean[POLARISATION] = level + (mean[POLARISATION] - level) * keep
    belief.fade(POLARISATION, keep, floor * floor)
    if level < 0.0:
        belief.move(POLARISATION, [(SAG, level * (1.0 - keep))])
    if block.charging:
        belief.spread(ACCEPTANCE, ACCEPTANCE_DRIFT**2 * hours)
        belief.spread(POWER, POWER_DRIFT**2 * hours)
        belief.spread(GASSING, gas_drift(block.seconds_without, hours))
    belief.spread(OFFSET, OFFSET_DRIFT**2 * hours)


def _held(circuit: Circuit, soc: float, block: Block) -> bool:
    """A source stands well above the rest voltage: nothing can flow out of the bank."""
    return circuit.lead and block.charging and block.volts > circuit.curve.at(soc) + HELD_PUSH
