"""What the charge filter does not know, in the order of its belief: one place for the indices."""

from __future__ import annotations

import math
from typing import Final

from monitor.engine.cell import Circuit
from monitor.engine.gaussian import Gaussian

SOC: Final = 0
POLARISATION: Final = 1
ACCEPTANCE: Final = 2  # log
POWER: Final = 3
GASSING: Final = 4  # log
OFFSET: Final = 5  # sensor's amps too many, as a fraction of the label's ampere-hours
CAPACITY: Final = 6  # log of usable over label
SAG: Final = 7  # log of the slow sag under load over what the chemistry's usually is

CAPACITY_SD: Final = 0.12  # log; house banks in use are anything from new to worn (from memory)
OFFSET_AMPS: Final = 0.15  # common shunts: 0.1 % of 150 to 500 A
OFFSET_RATE: Final = 0.0005
SAG_SD: Final = 0.15  # log


def prior_belief(circuit: Circuit, label_amp_hours: float) -> Gaussian:
    """What is believed of a bank that nobody has seen yet."""
    traits = circuit.traits
    return Gaussian(
        [
            0.6,
            0.0,
            math.log(traits.acceptance.figure),
            traits.power.figure,
            math.log(traits.gassing.figure),
            0.0,
            0.0,
            0.0,
        ],
        [
            0.3,
            0.02,
            traits.acceptance.sd,
            traits.power.sd,
            traits.gassing.sd,
            OFFSET_AMPS / label_amp_hours + OFFSET_RATE,
            CAPACITY_SD,
            SAG_SD,
        ],
    )
