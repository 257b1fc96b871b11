"""What is in a bank: charge times capacity, and a doubt that knows how the two go together."""

from __future__ import annotations

import math

import numpy as np
import pytest

from monitor.chemistries import CHEMISTRIES
from monitor.engine.cell import Circuit
from monitor.engine.gaussian import Gaussian
from monitor.engine.stored import stored
from monitor.engine.unknowns import CAPACITY, SOC, prior_belief

LABEL = 250.0


def belief(soc_sd: float, share_sd: float, together: float) -> Gaussian:
    """`together` is the correlation of the fraction of charge with the log of the capacity."""
    made = prior_belief(Circuit(CHEMISTRIES["flooded"]), LABEL)
    size = made.size
    made.cov[SOC * size + SOC] = soc_sd * soc_sd
    made.cov[CAPACITY * size + CAPACITY] = share_sd * share_sd
    for one, other in ((SOC, CAPACITY), (CAPACITY, SOC)):
        made.cov[one * size + other] = together * soc_sd * share_sd
    return made


@pytest.mark.parametrize("together", [-0.8, 0.0, 0.8])
@pytest.mark.parametrize("soc", [0.1, 0.5, 0.87])
def test_doubt_is_that_of_a_drawn_crowd(soc: float, together: float) -> None:
    soc_sd, share_sd = 0.02, 0.06
    told = stored(belief(soc_sd, share_sd, together), soc, LABEL)
    cov = together * soc_sd * share_sd
    drawn = np.random.default_rng(7).multivariate_normal(
        [soc, 0.0], [[soc_sd**2, cov], [cov, share_sd**2]], 200_000
    )
    crowd = drawn[:, 0] * LABEL * np.exp(drawn[:, 1])
    assert told.figure == pytest.approx(soc * LABEL)
    assert told.sd == pytest.approx(crowd.std(), rel=0.03)


def test_what_is_known_apart_adds_up_in_squares() -> None:
    told = stored(belief(0.015, 0.08, 0.0), 0.87, 254.0)
    assert told.figure == pytest.approx(221.0, abs=0.1)
    assert told.sd == pytest.approx(math.hypot(254.0 * 0.015, 221.0 * 0.08), rel=1e-3)


def test_an_empty_bank_has_nothing_in_it_and_its_doubt() -> None:
    told = stored(belief(0.01, 0.1, 0.0), 0.0, 100.0)
    assert told.figure == 0.0
    assert told.sd == pytest.approx(1.0)
