"""Conditions of the installation: what the shunt misses or misreads, and what was left on."""

from __future__ import annotations

from typing import Final

from adapters.reading import Quantity
from monitor.engine.condition import CAUTION_POSTS, LEAD, Condition, Figures
from monitor.engine.followed import STANDING_RATE
from monitor.engine.snapshot import Priority
from monitor.engine.standing_draw import LARGE_HOURS, STANDING_HOURS
from monitor.engine.watch import BankWatch

PAIR: Final = (Quantity.BANK_VOLTS, Quantity.BANK_AMPS)
#: Two meters of one current differ by 5 % at most (common practice); a scale that is wrong is wrong
#: by a quarter or by half.
SCALE_OFF: Final = 0.2
#: What a shunt may show while nothing flows: 0.2 A on a common one (0.1 % of 150 to 500 A), 0.2 %
#: of the ampere-hours on a large bank.
OFFSET_AMPS: Final = 0.3
OFFSET_RATE: Final = 0.002
#: No bank holds more than its label by this (common practice: new banks up to 10 % more).
OVERFULL: Final = 1.2
CAPACITY_SD: Final = 0.1
#: Volts per cell by which a bank long at rest may sink: a lead-acid cell loses 1 to 2 mV in a day
#: by itself and by what remains of its surface charge (common practice: 5 % a month).
SUNK: Final = 0.015
#: A load this large, in C20, empties a bank within a day.
LARGE_RATE: Final = 0.04


def _scale(watch: BankWatch) -> float | None:
    """How far the shunt surely is off from the sources' own meters, as a share."""
    known = watch.followed.scale.known
    if known is None:
        return None
    slope, sd = known
    return max(0.0, abs(slope - 1.0) - 3.0 * sd)


def _scale_detail(watch: BankWatch) -> Figures:
    slope, sd = watch.followed.scale.known or (1.0, 0.0)
    return (("slope", slope), ("sd", sd))


def _offset(watch: BankWatch) -> float:
    followed = watch.followed
    return max(0.0, abs(followed.offset) - 2.0 * followed.offset_sd)


def _offset_limit(watch: BankWatch) -> float:
    return max(OFFSET_AMPS, OFFSET_RATE * watch.bank.amp_hours)


def _offset_detail(watch: BankWatch) -> Figures:
    return (("offset", watch.followed.offset), ("sd", watch.followed.offset_sd))


def _overfull(watch: BankWatch) -> float | None:
    followed = watch.followed
    if followed.fulls == 0 or followed.capacity_sd > CAPACITY_SD:
        return None
    return followed.capacity - 2.0 * followed.capacity_sd


def _capacity_detail(watch: BankWatch) -> Figures:
    followed = watch.followed
    return (
        ("usable", followed.capacity * watch.bank.amp_hours),
        ("label", watch.bank.amp_hours),
    )


def _unseen_detail(watch: BankWatch) -> Figures:
    unseen = watch.followed.unseen
    amp_hours = watch.bank.amp_hours
    return (
        ("volts", watch.minute_volts),
        ("drawn", unseen.drawn * amp_hours),
        ("back", unseen.back * amp_hours),
    )


def _sunk_detail(watch: BankWatch) -> Figures:
    unseen = watch.followed.unseen
    return (("hours", unseen.rest_hours), ("millivolts", 1e3 * (unseen.sunk or 0.0)))


def _standing(watch: BankWatch) -> float | None:
    return watch.followed.draw.more(STANDING_HOURS)


def _standing_limit(watch: BankWatch) -> float:
    return STANDING_RATE * watch.bank.amp_hours * watch.bank.nominal_volts


def _standing_detail(watch: BankWatch) -> Figures:
    draw = watch.followed.draw
    lately = draw.lately(STANDING_HOURS) or 0.0
    return (
        ("usual", draw.usual or 0.0),
        ("lately", lately),
        ("daily", 24.0 * (lately - (draw.usual or 0.0)) / watch.bank.nominal_volts),
    )


def _large(watch: BankWatch) -> float | None:
    """Only while it empties the bank: on shore power an oven may stay on."""
    more = watch.followed.draw.more(LARGE_HOURS)
    return None if more is None else more if watch.minute_amps < 0.0 else 0.0


def _large_limit(watch: BankWatch) -> float:
    return LARGE_RATE * watch.bank.amp_hours * watch.bank.nominal_volts


def _large_detail(watch: BankWatch) -> Figures:
    draw = watch.followed.draw
    return (
        ("usual", draw.usual or 0.0),
        ("lately", draw.lately(LARGE_HOURS) or 0.0),
        ("amps", -watch.minute_amps),
    )


CONDITIONS: Final[tuple[Condition[BankWatch], ...]] = (
    Condition(
        name="meters-disagree",
        words="Two devices measure the same and do not say the same: one of them is wrong.",
        causes=(
            "a shunt of another scale than its device was told",
            "a sense wire or sensor that is loose, or in another place than the other's",
            "a current that passes one shunt and not the other",
            "one device bound to the wrong bank or source in the config",
        ),
        first="Compare both with a meter at the posts; put the right one first in the config.",
        caution=CAUTION_POSTS,
        priority=Priority.LOW,
        figure=lambda watch: watch.followed.disagreement.times,
        limit=lambda _: 1.0,
        adds=lambda watch: watch.followed.disagreement.words,
        says="{figure:.1f} times what two sound meters differ by",
        source="common practice: volts 1 % and 30 mV, amps 4 % and 0.4 A, temperatures by 6 °C",
        inputs=(),
        deadband=0.2,
        on_delay=600.0,
        off_delay=600.0,
        unit="times",
        possible=(0.3, 20.0),
    ),
    Condition(
        name="shunt-scale",
        words=(
            "The shunt and the sources' own meters do not agree on how much an amp is: amp-hours "
            "and state of charge are wrong by as much."
        ),
        causes=(
            "the shunt's size set wrongly in its device or its description",
            "a source's current scale wrong in its description",
            "a source that is not configured, or a charger beside the shunt",
        ),
        first="Compare the shunt's label with the setting; then both with a clamp meter.",
        priority=Priority.MEDIUM,
        figure=_scale,
        limit=lambda _: SCALE_OFF,
        says=(
            "while the current tapered the sources' moved by {slope:.2f} A for each amp of the "
            "shunt, give or take {sd:.2f}"
        ),
        source="physics: at a held voltage both taper alike; two meters agree to 5 %",
        inputs=(Quantity.BANK_AMPS, Quantity.SOURCE_AMPS),
        deadband=0.05,
        on_delay=600.0,
        off_delay=600.0,
        detail=_scale_detail,
        unit="fraction",
        possible=(0.05, 2.0),
    ),
    Condition(
        name="shunt-offset",
        words=(
            "The current sensor shows current while none flows: counted amp-hours drift by that "
            "much every hour. It is allowed for, but less surely than a sensor set to zero."
        ),
        causes=("a sensor never set to zero, or set while something drew", "a drifting amplifier"),
        first="Set it to zero with everything off and the main switch open.",
        priority=Priority.LOW,
        figure=_offset,
        limit=_offset_limit,
        says="shows {offset:+.2f} A, give or take {sd:.2f}, while nothing flows",
        source="common practice: 0.1 % of a 150 to 500 A shunt; 0.2 % of C20 on large banks",
        inputs=(Quantity.BANK_AMPS,),
        deadband=0.1,
        on_delay=3600.0,
        off_delay=3600.0,
        detail=_offset_detail,
        unit="amps",
        possible=(0.02, 20.0),
    ),
    Condition(
        name="capacity-impossible",
        words=(
            "More goes in and out than the bank can hold by its label: amps are counted too "
            "large, or the label in the config is not the bank's."
        ),
        causes=(
            "the shunt's size set too large",
            "ampere-hours or the number of strings wrong in the config",
        ),
        first="Compare the shunt's label with its setting, and the bank's with the config.",
        priority=Priority.LOW,
        figure=_overfull,
        limit=lambda _: OVERFULL,
        says="{usable:.0f} Ah counted, {label:.0f} Ah on the label",
        source="common practice: new banks hold up to 10 % more; twice that, by two deviations",
        inputs=PAIR,
        deadband=0.05,
        on_delay=3600.0,
        off_delay=3600.0,
        detail=_capacity_detail,
        unit="fraction",
        possible=(1.0, 2.0),
    ),
    Condition(
        name="charged-unseen",
        words=(
            "The bank is held at a charging voltage and the shunt sees no charge go in: a source "
            "is connected around the shunt, and state of charge cannot be trusted."
        ),
        causes=(
            "a charger's or panel's negative at the battery's post instead of behind the shunt",
            "the shunt's sense wires loose",
        ),
        first="Follow every negative wire: only the shunt may be at the battery's negative post.",
        priority=Priority.MEDIUM,
        figure=lambda watch: watch.followed.unseen.charged_hours,
        limit=lambda _: 1.0,
        says=(
            "{volts:.2f} V for {lasted}, {drawn:.0f} Ah drawn before and {back:.1f} Ah "
            "seen to come back"
        ),
        source="physics: a bank that lacks 2 % stands so high only while current flows in",
        inputs=PAIR,
        off_delay=600.0,
        detail=_unseen_detail,
        unit="hours",
        possible=(0.25, 24.0),
    ),
    Condition(
        name="drained-unseen",
        words=(
            "The resting bank's voltage sinks although the shunt sees nothing drawn: something "
            "draws around the shunt, or the bank loses charge by itself."
        ),
        causes=(
            "something connected at the battery's post instead of behind the shunt",
            "a draw too small for the shunt to show",
            "a cell that begins to short, or a worn bank",
        ),
        first="Take every wire but the shunt's off the negative post and see whether it goes on.",
        priority=Priority.LOW,
        figure=lambda watch: watch.followed.unseen.sunk,
        limit=lambda _: SUNK,
        says=(
            "{millivolts:.0f} mV per cell in {hours:.0f} h of rest, beyond what the shunt counted"
        ),
        source="common practice: rested lead-acid loses 1 to 2 mV per cell in a week; ten times it",
        inputs=PAIR,
        deadband=0.005,
        on_delay=3600.0,
        off_delay=600.0,
        detail=_sunk_detail,
        chemistries=LEAD,
        unit="volts_per_cell",
        possible=(0.005, 0.2),
    ),
    Condition(
        name="standing-draw",
        words="Something new draws all the time, by day and by night.",
        causes=(
            "something left on: a lamp in a locker, a fan, an inverter without load",
            "a device that no longer sleeps",
            "a damp or worn wire",
        ),
        first="Take out fuses one after another and watch the current.",
        priority=Priority.LOW,
        figure=_standing,
        limit=_standing_limit,
        says=(
            "never below {lately:.0f} W in twelve hours, {usual:.0f} W are usual: "
            "{daily:.0f} Ah more a day"
        ),
        source="our choice: 0.5 % of C20 for twelve hours, above the most usual in a week",
        inputs=(Quantity.BANK_AMPS,),
        deadband=3.0,
        detail=_standing_detail,
        unit="watts",
        possible=(1.0, 5000.0),
    ),
    Condition(
        name="large-load-left-on",
        words="Something large has been on for hours and empties the bank.",
        causes=(
            "a heater, an oven, an air conditioner or a pump left on",
            "an inverter that feeds more than it was switched on for",
        ),
        first="Find and switch off what is not needed; see time left.",
        priority=Priority.MEDIUM,
        figure=_large,
        limit=_large_limit,
        says=(
            "never below {lately:.0f} W in six hours, {usual:.0f} W are usual; now {amps:.0f} A "
            "are drawn from the bank"
        ),
        source="our choice: 4 % of C20, which empties a bank within a day, for six hours",
        inputs=(Quantity.BANK_AMPS,),
        deadband=10.0,
        detail=_large_detail,
        unit="watts",
        possible=(10.0, 20000.0),
    ),
)
