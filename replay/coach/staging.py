"""How each fault is shown: on which coach, when it begins, and how long until it can be told.

A shorted cell is told in a minute, a bank kept full and warm in ten days. One row for each fault
of `replay.coach.faults`; the hours are those that the engine was measured to take, and a twentieth.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Final, NamedTuple

from replay.coach import slow_stories as slow
from replay.coach.config_text import config_text
from replay.coach.faults import FAULTS
from replay.coach.scenario import Scenario
from replay.coach.stories import STORIES


class Staging(NamedTuple):
    """Told within `told_hours` of the onset, on `coach` (None: the fault's own story) and from
    `onset_hours` of its run (None: the fault's usual time). `config` is what its owner says
    beside, put after a line of the configuration."""

    told_hours: float
    coach: Scenario | None = None
    onset_hours: float | None = None
    config: tuple[str, str] = ("", "")


STAGING: Final[Mapping[str, Staging]] = MappingProxyType(
    {
        "shunt_reversed": Staging(0.8),
        "shunt_scale": Staging(3.7),
        "shunt_offset": Staging(8.2),
        "temperature_missing": Staging(0.3),
        "temperature_implausible": Staging(0.1),
        "volts_missing": Staging(0.1),
        "device_silent": Staging(0.1),
        "poll_gaps": Staging(0.4),
        "glitches": Staging(1.7),
        "clock_jump": Staging(0.1),
        "joint_resistance": Staging(10.1),
        "lead_drop": Staging(2.1),
        "draw_around_shunt": Staging(11.2, slow.TIMED, 2.0),
        "source_around_shunt": Staging(2.0),
        "standing_draw": Staging(12.7, onset_hours=30.0),
        "load_left_on": Staging(6.4, onset_hours=30.0),
        "inverter_sag": Staging(0.1),
        "absorption_never_ends": Staging(8.0),
        "never_reaches_absorption": Staging(6.9),
        "float_missing": Staging(6.6, slow.BENCH_WITH_AC, 0.0),
        "absorption_short": Staging(52.4, slow.DAILY, 0.0),
        "absorption_high": Staging(2.9),
        "absorption_low": Staging(3.0),
        "float_high": Staging(10.1),
        "float_low": Staging(6.8),
        "over_voltage": Staging(0.1),
        "fixed_overcharge": Staging(14.2),
        "compensation_missing": Staging(34.1, slow.FLOATING, 0.0),
        "compensation_wrong": Staging(64.5, slow.FLOATING, 0.0),
        "charger_derated": Staging(0.4),
        "charge_too_fast": Staging(0.7),
        "charge_interrupted": Staging(3.3),
        "equalize_forbidden": Staging(0.2),
        "equalize_never_ends": Staging(8.6),
        "report_disagrees": Staging(1.1),
        "uneven_sharing": Staging(1.8),
        "sun_blocked": Staging(101.9, slow.SUNNY, 47.0),
        "thermal_runaway": Staging(4.7),
        "shorted_cell": Staging(0.1),
        "sulfated": Staging(45.3, slow.DAILY, 0.0),
        "halves_drift": Staging(3.2),
        "cells_drift": Staging(4.0),
        "self_discharge": Staging(11.2, slow.TIMED, 2.0),
        "bank_hot": Staging(4.6),
        "bank_cold": Staging(15.0),
        "may_freeze": Staging(12.3),
        "charged_below_zero": Staging(1.7),
        "kept_full_and_warm": Staging(253.5, slow.HOT_LFP, 2.0),
        "charge_side_opens": Staging(0.1),
        "discharge_side_opens": Staging(0.1),
        "ac_low": Staging(0.1),
        "ac_high": Staging(0.1),
        "ac_lost": Staging(0.1, config=("[sources.shore]", "ac_expected = true")),
        "ac_hertz_off": Staging(0.1),
        "lost_neutral": Staging(0.3),
        "power_factor_low": Staging(0.2),
        "temperature_stuck": Staging(12.7, STORIES["highfell"], 2.0),
    }
)

#: What still plays after the telling, of the time until then, and at least this many hours.
_AFTER_SHARE: Final = 0.25
_AFTER_HOURS: Final = 2.0


class Staged(NamedTuple):
    """A fault on its coach: from `onset_hours` of the run, told by `told_hours` of it."""

    scenario: Scenario
    config: str
    onset_hours: float
    told_hours: float


def staged(name: str) -> Staged:
    """The coach on which a fault is seen best, with that fault and no other."""
    fault, staging = FAULTS[name], STAGING[name]
    story = staging.coach or STORIES[fault.story]
    onset = fault.onset_hours if staging.onset_hours is None else staging.onset_hours
    told = onset + staging.told_hours
    after = max(_AFTER_HOURS, _AFTER_SHARE * staging.told_hours)
    scenario = replace(
        story,
        faults=(),
        hours=max(story.hours, told + after),
        words=f"{story.words}; {fault.words}",
    ).with_fault(name, onset)
    line, more = staging.config
    text = config_text(scenario)
    return Staged(scenario, text.replace(line, f"{line}\n{more}") if line else text, onset, told)
