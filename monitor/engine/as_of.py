"""Is what is known of a bank known now, or from before? The one rule, for whoever tells or plans.

Stage, charge and every time that follows from them go on only with volts and amps that were read
together. While either is missing they stand still: they are told as past, and nothing is planned
from them.
"""

from __future__ import annotations

from monitor.engine.snapshot import Measured


def missing(volts: Measured, amps: Measured) -> Measured | None:
    """Which of the two is not read now, the longer silent where neither is; None: both are."""
    gone = [each for each in (volts, amps) if each.figure is None]
    return max(gone, key=_quiet, default=None)


def _quiet(measured: Measured) -> float:
    return float("inf") if measured.age_seconds is None else measured.age_seconds


def why_not_now(volts: Measured, amps: Measured) -> str:
    """Why the charge is not known now, with the age of what was; empty where it is known."""
    gone = missing(volts, amps)
    return "" if gone is None else f"charge not known now, {gone.reason or 'not measured'}"
