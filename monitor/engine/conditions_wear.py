"""Conditions of wear: kept full and warm, worn out, empty too soon, thirsty in float."""

from __future__ import annotations

from typing import Final

from adapters.reading import Quantity
from monitor.engine.condition import LEAD, LFP, Condition, Figures
from monitor.engine.snapshot import Priority
from monitor.engine.watch import BankWatch

PAIR: Final = (Quantity.BANK_VOLTS, Quantity.BANK_AMPS)
#: A bank is worn out below this share of its label (common practice, as in IEEE 450 and 1188).
WORN: Final = 0.8
#: ...and by two discharges against a rest-voltage table, a tenth lower.
EMPTY_SHARE: Final = 0.7
#: Twice what a capacity is known to, at most: less is guessing.
CAPACITY_SD: Final = 0.1


def _float_amps(watch: BankWatch) -> float | None:
    return watch.followed.float_current.amps


def _most_float_amps(watch: BankWatch) -> float:
    return watch.followed.float_current.most_amps(watch.celsius)


def _worn(watch: BankWatch) -> float | None:
    """The share of the label that is surely not exceeded; None before it was learned."""
    followed = watch.followed
    if followed.fulls == 0 or followed.capacity_sd > CAPACITY_SD:
        return None
    return followed.capacity + 2.0 * followed.capacity_sd


def _capacity_detail(watch: BankWatch) -> Figures:
    followed = watch.followed
    amp_hours = watch.bank.amp_hours
    return (
        ("usable", followed.capacity * amp_hours),
        ("sd", followed.capacity_sd * amp_hours),
        ("label", amp_hours),
        ("percent", 100.0 * followed.capacity),
    )


def _depth_detail(watch: BankWatch) -> Figures:
    share = watch.followed.depth.share or 0.0
    return (("percent", 100.0 * share), ("label", watch.bank.amp_hours))


CONDITIONS: Final[tuple[Condition[BankWatch], ...]] = (
    Condition(
        name="kept-full-and-warm",
        words=(
            "The bank has been kept full and warm for weeks: LFP ages fastest so, without any use."
        ),
        causes=(
            "a charger that floats or absorbs for ever with nobody aboard",
            "a bank in a hot place",
        ),
        first="Store it half full: lower or end float while nobody needs the charge; ventilate.",
        priority=Priority.LOW,
        figure=lambda watch: watch.followed.float_current.full_and_warm_hours / 24.0,
        limit=lambda _: 10.0,
        says="above 90 % and 30 °C for {figure:.1f} days together, at most {limit:.0f}",
        source="common practice: store LFP half full and cool; ten days, our choice",
        inputs=(Quantity.BANK_CELSIUS, Quantity.BANK_AMPS),
        deadband=1.0,
        chemistries=LFP,
        unit="days",
        possible=(1.0, 365.0),
    ),
    Condition(
        name="capacity-low",
        words=(
            "The bank is full too soon and empty too soon: little is left of the capacity on its "
            "label."
        ),
        causes=(
            "an old or sulfated bank",
            "one battery of several failing, or not connected",
            "ampere-hours in the config that are not the bank's",
            "a shunt whose scale is wrong: too few amps counted",
        ),
        first="Equalize flooded, or charge long and fully, and see; else test each battery alone.",
        priority=Priority.LOW,
        figure=_worn,
        limit=lambda _: WORN,
        below=True,
        says=(
            "{usable:.0f} Ah usable, give or take {sd:.0f}: {percent:.0f} % of the {label:.0f} Ah "
            "of its label"
        ),
        source="common practice (IEEE 450, 1188): worn out below 80 %, here by two deviations",
        inputs=PAIR,
        deadband=0.03,
        on_delay=3600.0,
        off_delay=3600.0,
        detail=_capacity_detail,
        unit="fraction",
        possible=(0.3, 0.95),
    ),
    Condition(
        name="empty-too-soon",
        words=(
            "From full the bank's voltage falls much faster than what is drawn explains: it holds "
            "less than its label says, or more is drawn than the shunt sees."
        ),
        causes=(
            "an old or sulfated bank, or one battery of several failing",
            "something that draws around the shunt",
            "a shunt whose scale is wrong, or ampere-hours in the config that are not the bank's",
        ),
        first="Compare the shunt with a clamp meter; if it is right, test each battery by itself.",
        priority=Priority.LOW,
        figure=lambda watch: watch.followed.depth.share,
        limit=lambda _: EMPTY_SHARE,
        below=True,
        says=(
            "in its last deep discharges it gave {percent:.0f} % at most of what its voltage says "
            "was gone of {label:.0f} Ah"
        ),
        source="worn out below 80 % (IEEE 450, 1188), a tenth for the rest-voltage table; twice",
        inputs=PAIR,
        deadband=0.05,
        detail=_depth_detail,
        chemistries=LEAD,
        unit="fraction",
        possible=(0.3, 0.95),
    ),
    Condition(
        name="held-current-high",
        words=(
            "After hours at a held voltage the bank still takes much more than a sound one: it "
            "loses charge by itself, or something draws from its posts without passing the shunt."
        ),
        causes=(
            "something connected to the posts on the wrong side of the shunt",
            "an old bank, or a cell that begins to short",
            "a voltage held too high",
            "a shunt that shows current when none flows",
        ),
        first="Switch all loads off: if the current stays, look for wires at the posts themselves.",
        priority=Priority.LOW,
        figure=_float_amps,
        limit=_most_float_amps,
        says="{figure:.1f} A settled at {volts:.2f} V, a worn bank takes {limit:.1f} A at most",
        source=(
            "IEC 62485-2: 1 mA for an Ah in float, here five times that (vented: ten), 8 (20) mA "
            "in absorption, doubled for 10 °C, and 0.3 A for the shunt"
        ),
        detail=lambda watch: (("volts", watch.minute_volts),),
        inputs=PAIR,
        deadband=0.1,
        on_delay=3600.0,
        off_delay=3600.0,
        unit="amps",
        possible=(0.1, 200.0),
    ),
)
