"""Conditions of voltage and charge: too high, too low, held at the wrong level, too long."""

from __future__ import annotations

from typing import Final

from adapters.reading import Quantity
from monitor.engine.condition import (
    ANY,
    CAUTION_GAS,
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
#: Volts per cell at which a lead-acid battery is empty at the 20 h rate (IEC 60896: 1.75 V), and
#: an LFP cell as good as (common practice: 2.8 V, before protection at 2.5 V).
EMPTY_PER_CELL: Final = {True: 1.75, False: 2.8}
#: A drop along leads that nobody measured, seen from the posts (engine: 2 to 15 mohm is common).
LEAD_OHMS: Final = 0.015
#: A hold is judged when it has been held so long, by a source seen as sure as this.
JUDGED_SECONDS: Final = 1800.0
SURE: Final = 0.8
#: Hours in absorption beyond a configured timer before it is called late (our choice).
TIMER_GRACE: Final = 1.0
LONGEST_HOURS: Final = 10.0
FLAT_HOURS: Final = 6.0


def _highest(watch: BankWatch) -> float:
    return watch.highest * (1.0 + TOLERANCE)


def _empty(watch: BankWatch) -> float:
    return EMPTY_PER_CELL[watch.bank.chemistry.lead]


def _low_soc(watch: BankWatch) -> float | None:
    """One standard deviation above the state of charge while that too is below the limit.

    A bank that may be anywhere is not said to be low: the condition begins when the estimate and
    its deviation are both below, ends when the estimate is back, and is left as it is between.
    """
    lowest, soc = watch.bank.lowest_soc, watch.soc
    if lowest is None or soc is None or soc >= lowest:
        return None if lowest is None else soc
    at_most = soc + (watch.soc_sd or 0.0)
    return at_most if at_most < lowest else None


def _lowest_soc(watch: BankWatch) -> float:
    return watch.bank.lowest_soc or 0.0


def _soc_detail(watch: BankWatch) -> Figures:
    return (("soc", watch.soc or 0.0), ("soc_sd", watch.soc_sd or 0.0))


def _set_point(watch: BankWatch) -> float | None:
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
    return watch.compensated_per_cell(volts, watch.compensation_mv)


def _missed_set_point(watch: BankWatch) -> float | None:
    """Absorption's set-point, where a lead bank in what looks like bulk is held far below it.

    Within 0.4 % for an hour while the current tapers: no bulk charge does that.
    """
    given = watch.bank.set_points.absorption
    if given is None or watch.stage != "bulk" or not watch.bank.chemistry.lead:
        return None
    if not watch.hold.tapered:
        return None
    return watch.compensated_per_cell(given, watch.compensation_mv)


def _held_above(watch: BankWatch) -> float | None:
    set_point = _set_point(watch)
    return None if set_point is None else watch.hold.volts / watch.cells / set_point - 1.0


def _held_below(watch: BankWatch) -> float | None:
    """Below an absorption set-point, judged at the source's end of the leads.

    A source without sense leads holds its own terminals: the posts lie below by what the leads
    drop. Where the source's volts are not measured, that may be as much as leads commonly drop.
    Float is left out: a drop to a low hold after hours in float is ordinary.
    """
    set_point = _set_point(watch) if watch.stage == "absorption" else _missed_set_point(watch)
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
    ),
    Condition(
        name="under-voltage",
        words="The bank's voltage has fallen to where it counts as empty.",
        causes=("a bank that is empty", "a load beyond what it can carry", "a weak or dead cell"),
        first="Switch loads off and charge soon: every hour empty costs capacity.",
        priority=Priority.HIGH,
        figure=lambda watch: watch.volts_per_cell,
        limit=_empty,
        below=True,
        says="{figure:.2f} V per cell, empty at {limit:.2f} V",
        source="1.75 V per lead-acid cell (IEC 60896), 2.8 V per LFP cell (common practice)",
        inputs=VOLTS,
        deadband=0.05,
        on_delay=60.0,
        off_delay=300.0,
        cadence=Cadence.FAST,
    ),
    Condition(
        name="below-lowest-soc",
        words="The bank is below the lowest state of charge that its owner plans.",
        causes=("more drawn than planned", "a charge that did not finish", "a standing draw"),
        first="Charge, or shed loads that can wait.",
        priority=Priority.MEDIUM,
        figure=_low_soc,
        limit=_lowest_soc,
        below=True,
        says="{soc:.2f} of full, give or take {soc_sd:.2f}; lowest planned {limit:.2f}",
        source="the config, lowest_soc, with one standard deviation of the estimate below it too",
        inputs=PAIR,
        deadband=0.03,
        on_delay=300.0,
        off_delay=600.0,
        detail=_soc_detail,
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
            "1.5 %, beyond 15 mohm of lead where nobody measures at the source: charger 1 %, "
            "meter 0.5 % (common practice)"
        ),
        inputs=PAIR,
        deadband=0.004,
        on_delay=600.0,
        off_delay=600.0,
        detail=_held_detail,
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
            "held {volts:.2f} V for {figure:.1f} h (at most {limit:.0f} h), current {amps:.1f} A, "
            "end-of-charge current {end_amps:.1f} A"
        ),
        source="common practice: 10 to 12 h, else investigate; six once the current is flat",
        inputs=PAIR,
        on_delay=60.0,
        off_delay=60.0,
        detail=_absorption_detail,
        chemistries=ANY,
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
        says="equalizing for {figure:.1f} h, allowed {limit:.0f} h",
        source="common practice: flooded only; end after hours of constant gravity",
        inputs=PAIR,
        on_delay=600.0,
        off_delay=600.0,
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
    ),
)
