"""Outlooks made by hand, so that a plan's answer can be worked out on paper."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from monitor.bank import Bank, Source, SourceKind
from monitor.chemistries import CHEMISTRIES
from monitor.engine.by_hour import Hourly
from monitor.engine.cell import Circuit
from monitor.engine.outlook import Outlook
from monitor.engine.snapshot import Estimate, Stage
from monitor.engine.unknowns import CAPACITY, SOC, prior_belief

#: 2026-06-01 22:00 UTC.
EVENING = 1_780_351_200.0
SIZE = prior_belief(Circuit(CHEMISTRIES["lfp"]), 100.0).size


def every_hour(watts: float, sd: float = 0.0, days: float = 3.0) -> Hourly:
    """The same load or sun at every hour of the day."""
    return Hourly((watts,) * 24, (sd,) * 24, EVENING, days)


def sunny(watts: float, first: int, last: int, sd: float = 0.0, days: float = 3.0) -> Hourly:
    """Sun in the hours from `first` to before `last` (UTC), nothing in the others."""
    hours = tuple(watts if first <= hour < last else 0.0 for hour in range(24))
    deviations = tuple(sd if first <= hour < last else 0.0 for hour in range(24))
    return Hourly(hours, deviations, EVENING, days)


def direction(index: int, step: float) -> tuple[float, ...]:
    return tuple(step if n == index else 0.0 for n in range(SIZE))


def known(
    chemistry: str = "lfp",
    soc: float = 0.8,
    *,
    amp_hours: float = 100.0,
    soc_sd: float = 0.0,
    capacity_sd: float = 0.0,
    sources: tuple[Source, ...] = (),
    **more: Any,
) -> Outlook:
    """A bank of which everything is known but what is given as unsure; LFP: its plateau and its
    hundredth of nothing lost make charge a matter of counting."""
    bank = Bank("house", CHEMISTRIES[chemistry], 12, amp_hours, lowest_soc=0.3)
    mean = list(prior_belief(Circuit(bank.chemistry), amp_hours).mean)
    mean[SOC] = soc
    directions = [direction(n, 0.0) for n in range(SIZE)]
    directions[SOC] = direction(SOC, soc_sd)
    directions[CAPACITY] = direction(CAPACITY, capacity_sd)
    made = Outlook(
        bank=bank,
        sources=sources,
        seconds=0.0,
        wall_offset=EVENING,
        place=None,
        stage=Stage.DISCHARGE,
        mean=tuple(mean),
        directions=tuple(directions),
        ohmic=Circuit(bank.chemistry).ohmic,
        ohms=Estimate(None, None, "no load step seen yet"),
        celsius=25.0,
        held_volts=Estimate(bank.chemistry.absorption.typical, 0.0),
        held_seen=True,
        end_amps=bank.end_of_charge_amps,
        leads=tuple(Estimate(None, None, "not known") for _ in sources),
        load=every_hour(0.0),
        recent_watts=None,
        sun=None,
    )
    return replace(made, **more)


def rest_volts(view: Outlook) -> float:
    return view.bank.cells * Circuit(view.bank.chemistry).curve.at(view.mean[SOC])


def roof() -> Source:
    return Source("roof", "house", SourceKind.SOLAR)


def hypot(*parts: float) -> float:
    return math.hypot(*parts)
