"""Conditions of voltage and charge: too high, too low, held at the wrong level, too long."""

from __future__ import annotations

from typing import Final

from adapters.reading import Quantity
from monitor.engine.condition import (
    ANY,
    CAUTION_GAS,
    CAUTION_POSTS,
    LEAD,
    Cadence,
    Condition,
    Figures,
)
from monitor.engine.snapshot import Priority
from monitor.engine.watch import BankWatch

VOLTS: Final = (Quantity.BANK_VOLTS,)
PAIR: Final = (Quantity.BANK_VOLTS, Quantity.BANK_AMPS)

#: Above the highest set-point: charger 1 % and meter 0.5 % (common practice for each).
TOLERANCE: Final = 0.015
#: Lead-acid cells stand so far apart near full (common practice); LFP must not.
CELL_SCATTER: Final = 0.10
#: Hours of gassing in 24 that even a deep charge does not take (common practice: absorption takes
#: 10 to 12 h at most).
GASSING_HOURS: Final = 12.0
#: A drop along leads that nobody measured, seen from the posts (engine: 2 to 15 mohm is common).
LEAD_OHMS: Final = 0.015
#: A hold is judged when it has been held so long, by a source seen as sure as this.
JUDGED_SECONDS: Final = 1800.0
SURE: Final = 0.8
#: A bank gives current from this on, C20 (what a common shunt shows while nothing flows).
GIVES_RATE: Final = 0.0015
#: ...and a hold that misses its set-point by more than this is none (1.3 V at 14.4 V, more than the
#: worst leads drop; our choice).
LEAST_HELD: Final = 0.91
#: Hours in absorption beyond a configured timer before it is called late (our choice).
TIMER_GRACE: Final = 1.0
LONGEST_HOURS: Final = 10.0
FLAT_HOURS: Final = 6.0


def _highest(watch: BankWatch) -> float:
    return watch.highest * (1.0 + TOLERANCE)


def _highest_cell(watch: BankWatch) -> float:
    return _highest(watch) + (CELL_SCATTER if watch.bank.chemistry.lead else 0.0)


def _set_point(watch: BankWatch, lean: int = 0) -> float | None:
    """The configured set-point of the stage now, compensated, volts per cell; None if unknown."""
    if watch.hold.seconds < JUDGED_SECONDS or watch.probability < SURE:
        return None
    given = watch.bank.set_points
    if watch.stage == "absorption":
        volts = given.absorption
    elif watch.stage == "float":
        volts = given.float_
    else:
        return None
    if volts is None:
        return None
    return watch.compensated_per_cell(volts, watch.compensation_mv, lean)


def _missed_set_point(watch: BankWatch) -> float | None:
    """Absorption's set-point, where a lead bank in what looks like bulk is held far below it.

    Within 0.4 % for an hour while the current tapers: no bulk charge does that. Not where it is so
    far below that nothing is held: the sun that sets tapers as well.
    """
    given = watch.bank.set_points.absorption
    if given is None or watch.stage != "bulk" or not watch.bank.chemistry.lead:
        return None
    if not watch.hold.tapered:
        return None
    set_point = watch.compensated_per_cell(given, watch.compensation_mv, -1)
    return set_point if watch.hold.volts > LEAST_HELD * set_point * watch.cells else None


def _held_above(watch: BankWatch) -> float | None:
    """Not while the bank gives current: then it stands above its float by itself, as LFP does."""
    if watch.hold.amps < -GIVES_RATE * watch.bank.amp_hours:
        return None
    set_point = _set_point(watch, 1)
    return None if set_point is None else watch.hold.volts / watch.cells / set_point - 1.0


def _held_below(watch: BankWatch) -> float | None:
    """Below an absorption set-point, judged at the source's end of the leads.

    A source without sense leads holds its own terminals: the posts lie below by what the leads
    drop. Where the source's volts are not measured, that may be as much as leads commonly drop.
    Float is left out: a drop to a low hold after hours in float is ordinary.
    """
    set_point = _set_point(watch, -1) if watch.stage == "absorption" else _missed_set_point(watch)
    if set_point is None:
        return None
    return 1.0 - (watch.hold.volts + _drop(watch)) / watch.cells / set_point


def _drop(watch: BankWatch) -> float:
    """Volts between the source's terminals and the posts, as measured or at most."""
    measured = watch.rise
    return max(0.0, watch.hold.amps * LEAD_OHMS if measured is None else measured)


def _held_detail(watch: BankWatch) -> Figures:
    set_point = _set_point(watch) or _missed_set_point(watch) or 0.0
    volts = watch.hold.volts
    source = volts + _drop(watch)
    return (("volts", volts), ("source", source), ("set_point", set_point * watch.cells))


def _tolerance(_: BankWatch) -> float:
    return TOLERANCE


def _absorption_hours(watch: BankWatch) -> float:
    return watch.absorption_seconds / 3600.0


def _longest_absorption(watch: BankWatch) -> float:
    """Hours: the configured timer and an hour; else ten, or six once the current is flat."""
    given = watch.bank.set_points.absorption_hours
    longest = LONGEST_HOURS if given is None else max(given + TIMER_GRACE, LONGEST_HOURS / 2.0)
    if watch.hold.flat and watch.hold.amps > watch.bank.end_of_charge_amps:
        return min(longest, FLAT_HOURS)
    return longest


def _absorption_detail(watch: BankWatch) -> Figures:
    return (
        ("amps", watch.hold.amps),
        ("end_amps", watch.bank.end_of_charge_amps),
        ("volts", watch.hold.volts),
    )


def _equalizing_hours(watch: BankWatch) -> float | None:
    return watch.equalize_seconds / 3600.0 if watch.probability >= SURE else None


def _equalize_limit(watch: BankWatch) -> float:
    return 0.0 if watch.bank.chemistry.equalize is None else 8.0


def _days_since_full(watch: BankWatch) -> float:
    return watch.since_full / 86400.0


CONDITIONS: Final[tuple[Condition[BankWatch], ...]] = (
    Condition(
        name="over-voltage",
        words="The bank's voltage is above anything its chemistry or its set-points ask for.",
        causes=(
            "a source that lost its voltage regulation",
            "a set-point for another chemistry or another nominal voltage",
            "temperature compensation with a sensor that reads too cold",
        ),
        first="Stop the source that is charging, then compare the posts with a meter.",
        caution=CAUTION_GAS,
        priority=Priority.HIGH,
        figure=lambda watch: watch.volts_per_cell,
        limit=_highest,
        says="{figure:.3f} V per cell, highest allowed {limit:.3f} V",
        source="highest set-point of the chemistry or the config, compensated, plus 1.5 %",
        inputs=VOLTS,
        deadband=0.02,
        on_delay=20.0,
        off_delay=60.0,
        cadence=Cadence.FAST,
        unit="volts_per_cell",
        possible=(1.5, 5.0),
    ),
    Condition(
        name="cell-over-voltage",
        words="One cell is above anything its chemistry asks for.",
        causes=(
            "cells that are no longer equally full",
            "a battery management system that does not balance or does not open",
            "a set-point for another chemistry",
        ),
        first="Stop charging; look at the cells one by one.",
        caution=CAUTION_POSTS,
        priority=Priority.HIGH,
        figure=lambda watch: watch.cell.highest_volts,
        limit=_highest_cell,
        says="highest cell {figure:.3f} V, highest allowed {limit:.3f} V",
        source="as for the bank; lead-acid cells scatter by 0.1 V in absorption (common practice)",
        inputs=(Quantity.HIGHEST_CELL_VOLTS,),
        deadband=0.03,
        on_delay=20.0,
        off_delay=60.0,
        cadence=Cadence.FAST,
        unit="volts_per_cell",
        possible=(1.5, 5.0),
    ),
    Condition(
        name="gassing-too-long",
        words="The bank has been above its gassing voltage for half a day: it loses water.",
        causes=(
            "a source that holds absorption voltage for ever",
            "set-points too high, or not compensated for a warm bank",
            "equalizing too often",
        ),
        first="Find the source that holds it and lower it to float; check the electrolyte's level.",
        caution=CAUTION_GAS,
        priority=Priority.MEDIUM,
        figure=lambda watch: watch.gassing.hours,
        limit=lambda _: GASSING_HOURS,
        says="{lasted} of the last 24 h above the gassing voltage, at most {allowed}",
        source="common practice: 10 to 12 h of absorption, else investigate; gassing from memory",
        inputs=PAIR,
        deadband=1.0,
        on_delay=60.0,
        chemistries=LEAD,
        unit="hours",
        possible=(1.0, 24.0),
    ),
    Condition(
        name="hold-above-set-point",
        words="The source holds the bank above its compensated set-point: gassing and water loss.",
        causes=(
            "compensation missing, or its sensor far from the bank",
            "a set-point that is not what the config says",
            "a source that regulates badly",
        ),
        first="Compare the posts with a meter, then the source's set-point and sensor.",
        caution=CAUTION_GAS,
        priority=Priority.MEDIUM,
        figure=_held_above,
        limit=_tolerance,
        says="held {volts:.2f} V against a compensated set-point of {set_point:.2f} V",
        source="1.5 %: charger 1 % and meter 0.5 % (common practice)",
        inputs=PAIR,
        deadband=0.004,
        on_delay=600.0,
        off_delay=600.0,
        detail=_held_detail,
        unit="fraction",
        possible=(0.002, 0.1),
    ),
    Condition(
        name="hold-below-set-point",
        words="The source holds the bank below its compensated set-point: it will not get full.",
        causes=(
            "long or thin leads without sense leads",
            "a set-point that is not what the config says",
            "compensation with a sensor that reads too warm",
        ),
        first="Measure volts at the source and at the posts while it charges.",
        priority=Priority.LOW,
        figure=_held_below,
        limit=_tolerance,
        says=(
            "held {volts:.2f} V at the posts, {source:.2f} V at the source, against a compensated "
            "set-point of {set_point:.2f} V"
        ),
        source=(
            "1.5 %, beyond 15 mΩ of lead where nobody measures at the source: charger 1 %, "
            "meter 0.5 % (common practice)"
        ),
        inputs=PAIR,
        deadband=0.004,
        on_delay=600.0,
        off_delay=600.0,
        detail=_held_detail,
        unit="fraction",
        possible=(0.002, 0.1),
    ),
    Condition(
        name="absorption-never-ends",
        words=(
            "Absorption has been held for hours on end and the charger does not go to float: "
            "water loss and overcharge."
        ),
        causes=(
            "end-of-charge current set below what the bank still takes",
            "a cell that takes current it should not",
            "a load that the charger mistakes for charging current",
        ),
        first="Check the charger's end of absorption, then the cells; stop it if the bank warms.",
        caution=CAUTION_GAS,
        priority=Priority.MEDIUM,
        figure=_absorption_hours,
        limit=_longest_absorption,
        says=(
            "held {volts:.2f} V for {lasted} (at most {allowed}), current {amps:.1f} A, "
            "end-of-charge current {end_amps:.1f} A"
        ),
        source="common practice: 10 to 12 h, else investigate; six once the current is flat",
        inputs=PAIR,
        on_delay=60.0,
        off_delay=1800.0,
        detail=_absorption_detail,
        chemistries=ANY,
        unit="hours",
        possible=(0.5, 72.0),
    ),
    Condition(
        name="equalize-not-allowed",
        words="The bank is being equalized although its chemistry forbids it, or without end.",
        causes=("a source set for flooded batteries", "a timer that did not end it"),
        first="Stop the source and turn equalizing off.",
        caution=CAUTION_GAS,
        priority=Priority.HIGH,
        figure=_equalizing_hours,
        limit=_equalize_limit,
        says="equalizing for {lasted}, allowed {allowed}",
        source="common practice: flooded only; end after hours of constant gravity",
        inputs=PAIR,
        on_delay=600.0,
        off_delay=600.0,
        unit="hours",
        possible=(0.0, 48.0),
    ),
    Condition(
        name="not-full-for-days",
        words="The bank has not been full for many days: lead-acid loses capacity that way.",
        causes=("too little sun or charging time", "absorption that ends too early", "loads"),
        first="Give it one long charge, to the end of absorption.",
        priority=Priority.LOW,
        figure=_days_since_full,
        limit=lambda _: 10.0,
        says="not full for {figure:.1f} days, at most {limit:.0f}",
        source="common practice: full at least weekly when cycled",
        inputs=PAIR,
        on_delay=60.0,
        chemistries=LEAD,
        unit="days",
        possible=(1.0, 365.0),
    ),
)
