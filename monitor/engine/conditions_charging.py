"""Conditions of charging: charges in vain, cut short or interrupted, floats that are wrong."""

from __future__ import annotations

from typing import Final

from adapters.reading import Quantity
from monitor.engine.condition import CAUTION_GAS, LEAD, Condition, Figures
from monitor.engine.snapshot import Priority, Stage
from monitor.engine.watch import IDLE_RATE, SURE, BankWatch

PAIR: Final = (Quantity.BANK_VOLTS, Quantity.BANK_AMPS)
#: Charger 1 % and meter 0.5 % (common practice for each).
TOLERANCE: Final = 0.015
#: A float is judged while it is young: later a drop to a low hold is ordinary.
YOUNG_FLOAT_SECONDS: Final = 3.0 * 3600.0
JUDGED_SECONDS: Final = 1800.0
#: A bank in float takes less than this, C20.
QUIET_RATE: Final = 0.01
#: Volts per cell and °C: the coefficients of one chemistry lie within 1 mV of their middle, so that
#: twice that is none of them (common practice: -3 to -6 mV).
SLOPE_OFF: Final = 0.002


def _vain(watch: BankWatch) -> float:
    return watch.followed.course.vain_hours


def _longest_bulk(watch: BankWatch) -> float:
    return watch.followed.course.longest_bulk


def _vain_detail(watch: BankWatch) -> Figures:
    course = watch.followed.course
    return (("missing", course.missing), ("gain", course.gain_amps))


def _short_detail(watch: BankWatch) -> Figures:
    return (
        ("amps", watch.followed.course.short_amps),
        ("end_amps", watch.bank.end_of_charge_amps),
    )


def _low_float(watch: BankWatch) -> float | None:
    """Share by which a young float lies below its set-point, and below a low hold that is told."""
    course, given = watch.followed.course, watch.bank.set_points
    seen = watch.stage == Stage.FLOAT and watch.probability >= SURE
    if given.float_ is None or not (seen or course.says_float):
        return None
    if not -IDLE_RATE < watch.rate < QUIET_RATE:
        return None  # more is drawn than it gives, or it is on its way up
    if watch.hold.seconds < JUDGED_SECONDS or course.float_seconds > YOUNG_FLOAT_SECONDS:
        return None
    lowest = given.float_ if given.low_hold is None else min(given.float_, given.low_hold)
    set_point = watch.compensated_per_cell(lowest, watch.compensation_mv, -1) * watch.cells
    return 1.0 - (watch.hold.volts + (watch.rise or 0.0)) / set_point


def _low_float_detail(watch: BankWatch) -> Figures:
    volts = watch.bank.set_points.float_ or 0.0
    set_point = watch.compensated_per_cell(volts, watch.compensation_mv) * watch.cells
    return (("volts", watch.hold.volts), ("set_point", set_point))


def _wanted_slope(watch: BankWatch) -> float:
    return watch.compensation_mv * 1e-3


def _slope_off(watch: BankWatch) -> float | None:
    """How far the slope surely is from the one that is wanted, volts per cell and °C."""
    known = watch.followed.slope.known
    if known is None:
        return None
    slope, sd = known
    return max(0.0, abs(slope - _wanted_slope(watch)) - 2.0 * sd)


def _slope_detail(watch: BankWatch) -> Figures:
    slope, sd = watch.followed.slope.known or (0.0, 0.0)
    return (
        ("slope", 1e3 * slope),
        ("sd", 1e3 * sd),
        ("wanted", 1e3 * _wanted_slope(watch)),
        ("off", 1e3 * SLOPE_OFF),
    )


def _slope_words(watch: BankWatch) -> str:
    slope, _ = watch.followed.slope.known or (0.0, 0.0)
    wanted = _wanted_slope(watch)
    if wanted == 0.0:
        return "it moves although this chemistry wants none: "
    if slope * wanted < 0.0 and abs(slope) > SLOPE_OFF / 2.0:
        return "it moves the wrong way: "
    return "it hardly moves: " if abs(slope) < 0.5 * abs(wanted) else "it moves too far: "


def _stops(watch: BankWatch) -> float:
    return float(len(watch.followed.course.stops))


def _sharing_words(watch: BankWatch) -> str:
    sharing = watch.followed.sharing
    return f"{sharing.idle} gives next to nothing while {sharing.busy} is at its limit"


def _sun_share(watch: BankWatch) -> float | None:
    return watch.followed.sun.share


def _sun_detail(watch: BankWatch) -> Figures:
    sun = watch.followed.sun
    return (("best", max(sun.best, default=0.0)), ("lately", max(sun.days[-4:], default=0.0)))


CONDITIONS: Final[tuple[Condition[BankWatch], ...]] = (
    Condition(
        name="charge-in-vain",
        words=(
            "A source has charged for hours on end and the bank never reached absorption: it "
            "does not get full this way."
        ),
        causes=(
            "more drawn than the source can give beside charging",
            "a source too small for the bank, or held back by heat or a setting",
            "long or thin leads, or a bad joint in them",
            "a shorted cell",
        ),
        first="Switch off what can wait, and look whether the current into the bank rises.",
        priority=Priority.LOW,
        figure=_vain,
        limit=_longest_bulk,
        says=(
            "charged for {lasted} (at most {allowed}), {gain:+.1f} A net, "
            "{missing:.0f} Ah were missing"
        ),
        source="common practice: bulk lasts at most 1.2 times Ah missing over amps; 6 to 24 h",
        inputs=PAIR,
        detail=_vain_detail,
        unit="hours",
        possible=(2.0, 72.0),
    ),
    Condition(
        name="absorption-cut-short",
        words=(
            "Day after day the charger goes to float while the bank still takes much current: it "
            "is never really full, and lead-acid loses capacity that way."
        ),
        causes=(
            "an absorption timer or an end-of-charge current set for another bank",
            "a charger that takes the current of the loads for nothing",
            "a bank larger than the charger was set for",
        ),
        first="Lengthen absorption, or lower the current at which the charger ends it.",
        priority=Priority.LOW,
        figure=lambda watch: watch.followed.course.cut_short,
        limit=lambda _: 2.5,
        says=(
            "{figure:.0f} times in a row on different days, last at {amps:.1f} A "
            "(end-of-charge current {end_amps:.1f} A)"
        ),
        source="common practice: absorption ends at 0.5 to 5 % of capacity; three in a row, ours",
        inputs=PAIR,
        detail=_short_detail,
        chemistries=LEAD,
        unit="times",
        possible=(1.0, 20.0),
    ),
    Condition(
        name="no-float-after-full",
        words=(
            "The bank became full and AC is there, but the charger gives nothing instead of "
            "floating it: loads empty it again although they need not."
        ),
        causes=(
            "float turned off in the charger's settings",
            "a charger that stops when full and starts only by hand or far down",
            "a charger switched off, while its AC is on",
        ),
        first="Turn float on in the charger's settings.",
        priority=Priority.LOW,
        figure=lambda watch: watch.followed.course.floatless_hours,
        limit=lambda _: 1.0,
        says=(
            "AC present and nothing given for {lasted} since absorption had done its work "
            "(told after {allowed})"
        ),
        source="our choice: an hour, longer than any change of stage; lead-acid wants float",
        inputs=(Quantity.AC_VOLTS,),
        off_delay=600.0,
        chemistries=LEAD,
        unit="hours",
        possible=(0.25, 24.0),
    ),
    Condition(
        name="float-below-set-point",
        words=(
            "The charger floats the bank below its compensated set-point, and below any low hold "
            "that was told: it slowly loses charge."
        ),
        causes=(
            "a float set-point that is not what the config says",
            "compensation with a sensor that reads too warm",
            "a charger set for another chemistry",
        ),
        first="Measure volts at the posts in float; compare with the charger's setting.",
        priority=Priority.LOW,
        figure=_low_float,
        limit=lambda _: TOLERANCE,
        says="held {volts:.2f} V against a compensated float of {set_point:.2f} V",
        source="1.5 %: charger 1 % and meter 0.5 % (common practice); judged in float's first 3 h",
        inputs=PAIR,
        deadband=0.004,
        on_delay=600.0,
        off_delay=600.0,
        detail=_low_float_detail,
        unit="fraction",
        possible=(0.002, 0.1),
    ),
    Condition(
        name="fixed-overcharge",
        words=(
            "A source that only ever holds one voltage holds it above what the bank can stay at: "
            "it gasses without end."
        ),
        causes=(
            "a power supply or an old charger used as a battery charger",
            "a charger set to one fixed voltage by mistake",
        ),
        first="Lower its voltage to the float set-point, or switch it off once the bank is full.",
        caution=CAUTION_GAS,
        priority=Priority.MEDIUM,
        figure=lambda watch: watch.followed.course.fixed_hours,
        limit=lambda _: 12.0,
        says=("held {volts:.2f} V, for {lasted} above what it can stay at (at most {allowed})"),
        source="common practice: 10 to 12 h at most; above half way from float to gassing",
        detail=lambda watch: (("volts", watch.minute_volts),),
        inputs=PAIR,
        unit="hours",
        possible=(1.0, 72.0),
    ),
    Condition(
        name="compensation-wrong",
        words=(
            "The held voltage does not follow the bank's temperature as its chemistry wants: "
            "overcharged when warm, or undercharged when cold."
        ),
        causes=(
            "compensation off in the charger, or its sensor not plugged in",
            "a coefficient for another chemistry or another number of cells",
            "the charger's sensor far from the bank",
        ),
        first="Check the charger's temperature sensor and its coefficient.",
        priority=Priority.LOW,
        figure=_slope_off,
        limit=lambda _: SLOPE_OFF,
        adds=_slope_words,
        says=(
            "{slope:+.1f} mV per °C and cell, give or take {sd:.1f}, over the floats of the last "
            "days; wanted {wanted:+.1f}, off by {off:.0f} mV at most"
        ),
        source="common practice: a chemistry's coefficients lie within 1 mV of their middle",
        inputs=(Quantity.BANK_VOLTS, Quantity.BANK_CELSIUS),
        deadband=0.0005,
        on_delay=600.0,
        off_delay=600.0,
        detail=_slope_detail,
        unit="volts_per_celsius_and_cell",
        possible=(0.0005, 0.01),
    ),
    Condition(
        name="charge-interrupted",
        words=(
            "The charger stops in the middle of charging and starts again, again and again: the "
            "bank hardly gets full."
        ),
        causes=(
            "a charger that overheats, or trips on low AC or a weak generator",
            "a loose plug or contact in its supply",
            "a protection in the battery that opens",
        ),
        first="Watch the charger's own display when it stops; feel whether it is hot.",
        priority=Priority.LOW,
        figure=_stops,
        limit=lambda _: 2.5,
        says="stopped {figure:.0f} times within twelve hours while the bank was charging",
        source="our choice: three times; a generator is stopped twice a day at most",
        inputs=(Quantity.SOURCE_AMPS,),
        deadband=1.0,
        unit="times",
        possible=(1.0, 50.0),
    ),
    Condition(
        name="sources-share-unevenly",
        words="Of the sources on this bank one idles while another works at its limit.",
        causes=(
            "set-points or compensation that differ between the two",
            "leads that differ in length, or one without sense leads",
            "one that was left at a lower setting, or has gone to float alone",
        ),
        first="Set both to the same voltages; compare volts at both sources' own terminals.",
        priority=Priority.LOW,
        figure=lambda watch: watch.followed.sharing.minutes,
        limit=lambda _: 20.0,
        adds=_sharing_words,
        says=", {lasted} in all (told after {allowed})",
        source="physics: a source at its limit cannot hold its voltage, so an equal one must help",
        inputs=(Quantity.SOURCE_AMPS,),
        deadband=15.0,
        unit="minutes",
        possible=(5.0, 600.0),
    ),
    Condition(
        name="sun-blocked",
        words="For days the panels have given next to nothing of what they gave before.",
        causes=(
            "snow, leaves, dirt or a cover on the panels",
            "a blown fuse or a loose plug between panels and controller",
            "very dull weather, or shade that was not there before",
        ),
        first="Look at the panels; then compare their volts and fuse with a sunny day.",
        priority=Priority.LOW,
        figure=_sun_share,
        limit=lambda _: 0.2,
        below=True,
        says=(
            "at most {lately:.1f} Ah a day in four days, {best:.0f} Ah on the best of the last "
            "weeks"
        ),
        source="our choice: a fifth, four days in a row on which the bank could have taken more",
        inputs=(Quantity.SOURCE_AMPS,),
        deadband=0.1,
        detail=_sun_detail,
        unit="fraction",
        possible=(0.02, 0.8),
    ),
)
