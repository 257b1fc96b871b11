"""Which condition must name each fault of charging, in which coach, and how soon."""

from __future__ import annotations

from typing import Final, NamedTuple

from replay.coach import slow_stories as coaches
from replay.coach.faults import FAULTS
from replay.coach.scenario import Scenario
from replay.coach.stories import STORIES

NOTHING: Final[frozenset[str]] = frozenset()


class FaultRow(NamedTuple):
    """`rows` must all be raised, the first within `hours` after the onset (hour `onset` of the run
    of `coach`); `also` are conditions of high priority that the fault itself brings. The run ends
    `end` hours after the onset."""

    rows: tuple[str, ...]
    coach: Scenario
    hours: float
    onset: float
    end: float
    also: frozenset[str] = NOTHING


def usual(
    fault: str, row: str, hours: float, end: float, also: frozenset[str] = NOTHING
) -> FaultRow:
    """In the coach that the simulator suggests, at its usual time."""
    onset = FAULTS[fault].onset_hours
    return FaultRow((row,), STORIES[FAULTS[fault].story], hours, onset, end, also)


CHARGING: Final[dict[str, FaultRow]] = {
    "never_reaches_absorption": usual("never_reaches_absorption", "charge-in-vain", 7.0, 8.0),
    "float_missing": FaultRow(("no-float-after-full",), coaches.BENCH_WITH_AC, 6.6, 0.0, 7.0),
    # three days of it
    "absorption_short": FaultRow(("absorption-cut-short",), coaches.DAILY, 52.0, 0.0, 53.0),
    "absorption_low": usual("absorption_low", "hold-below-set-point", 3.0, 3.5),
    "absorption_high": usual("absorption_high", "hold-above-set-point", 3.0, 4.0),
    "float_high": usual("float_high", "hold-above-set-point", 10.0, 11.0),
    "float_low": usual("float_low", "float-below-set-point", 6.8, 7.5),
    "fixed_overcharge": usual("fixed_overcharge", "fixed-overcharge", 14.0, 14.5),
    "compensation_missing": FaultRow(("compensation-wrong",), coaches.FLOATING, 40.0, 0.0, 41.0),
    "compensation_wrong": FaultRow(("compensation-wrong",), coaches.FLOATING, 63.0, 0.0, 64.0),
    "charge_interrupted": usual("charge_interrupted", "charge-interrupted", 3.3, 4.0),
    "equalize_forbidden": usual(
        "equalize_forbidden", "equalize-not-allowed", 0.3, 1.0, frozenset({"over-voltage"})
    ),
    "equalize_never_ends": usual("equalize_never_ends", "equalize-not-allowed", 12.0, 13.0),
    "report_disagrees": usual("report_disagrees", "source-at-odds", 1.1, 1.5),
    "uneven_sharing": usual("uneven_sharing", "sources-share-unevenly", 2.0, 3.0),
    "absorption_never_ends": usual("absorption_never_ends", "absorption-never-ends", 11.0, 12.0),
    "sun_blocked": FaultRow(("sun-blocked",), coaches.SUNNY, 98.0, 47.0, 99.0),
    "thermal_runaway": usual(
        "thermal_runaway", "thermal-runaway", 8.0, 9.0, frozenset({"bank-hot"})
    ),
    "kept_full_and_warm": FaultRow(("kept-full-and-warm",), coaches.HOT_LFP, 260.0, 2.0, 264.0),
    "sulfated": FaultRow(("empty-too-soon",), coaches.DAILY, 48.0, 0.0, 49.0),
    "shorted_cell": usual("shorted_cell", "shorted-cell", 0.05, 0.5),
    "halves_drift": usual("halves_drift", "halves-apart", 3.5, 4.0),
    "cells_drift": usual("cells_drift", "cells-apart", 6.0, 8.0, frozenset({"cell-over-voltage"})),
    # settled six hours after float began, and an hour
    "self_discharge": FaultRow(("held-current-high",), coaches.TIMED, 11.5, 2.0, 12.0),
}
