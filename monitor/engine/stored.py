"""Amp-hours that are in a bank: its charge times its capacity, each doubtful, and not apart.

A bank that is smaller than believed is also emptier or fuller than believed: the filter holds how
the two go together, and the doubt of the product takes it in (JCGM 100:2008, 5.2.2, equation 13).
"""

from __future__ import annotations

from monitor.engine.gaussian import Gaussian
from monitor.engine.snapshot import Estimate
from monitor.engine.unknowns import CAPACITY, SOC


def stored(belief: Gaussian, soc: float, capacity_ah: float) -> Estimate:
    """`soc` times `capacity_ah`, at the 20 h rate and 25 °C.

    The belief has the logarithm of the capacity, whose deviation is a share of it.
    """
    by_soc, by_share = capacity_ah, soc * capacity_ah
    variance = (
        by_soc * by_soc * belief.covariance(SOC, SOC)
        + by_share * by_share * belief.covariance(CAPACITY, CAPACITY)
        + 2.0 * by_soc * by_share * belief.covariance(SOC, CAPACITY)
    )
    return Estimate(soc * capacity_ah, max(variance, 0.0) ** 0.5)
