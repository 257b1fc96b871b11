"""Conditions of a battery's protection: a side about to open, opened as told or as seen.

With its charge side open a battery can still be drawn from, with its discharge side open still be
charged. Neither is full, at rest or a dead device. That a side closed again is told by `sides`.
"""

from __future__ import annotations

from typing import Final

from adapters.reading import Quantity
from monitor.bank import REFERENCE_CELSIUS
from monitor.engine.condition import LFP, Cadence, Condition, Figures
from monitor.engine.snapshot import Priority
from monitor.engine.watch import IDLE_RATE, BankWatch

PAIR: Final = (Quantity.BANK_VOLTS, Quantity.BANK_AMPS)

#: Where protections open, if the owner does not say: the highest cell at 3.65 V, the lowest at
#: 2.5 to 2.8 V (common practice for both, the middle of the second), charging at 0 and 60 °C.
HIGH_CELL: Final = 3.65
LOW_CELL: Final = 2.60
#: At the top a cell gains its last 0.1 V within minutes, at the bottom it loses the last 0.3 V as
#: fast (physics: the knees of the LFP curve hold one or two hundredths of a charge). At the top
#: the pace tells whether it goes on: many a bank is balanced 0.05 V below the limit.
HIGH_MARGIN: Final = 0.15
SOON_SECONDS: Final = 180.0
LOW_MARGIN: Final = 0.30
COLD_MARGIN: Final = 2.0
HOT_MARGIN: Final = 5.0
#: Cells stand so far above a configured set-point's mean without anything being wrong: they are
#: balanced there (common practice).
BALANCING: Final = 0.03
#: What is seen beside a side that opened, from where on it may be why.
HIGH_SEEN: Final = 3.55
LOW_SEEN: Final = 2.85
COLD_SEEN: Final = 3.0
HOT_SEEN: Final = 50.0
CURRENT_SEEN: Final = 0.8


def _highest_soon(watch: BankWatch) -> float | None:
    """Volts that the highest cell comes to within minutes, once it is near its limit.

    At its pace, but no further than the whole bank still has to go to what its source holds: a
    cell that is held high to be balanced does not climb, nor does one that nothing charges.
    """
    highest = watch.cell.highest_volts
    if highest is None:
        return None
    if watch.rate <= IDLE_RATE:
        return 0.0
    if highest < _high_limit(watch) - HIGH_MARGIN:
        return highest
    to_go = max(0.0, _aim(watch) - watch.volts_per_cell)
    return highest + min(max(0.0, watch.cell.pace) * SOON_SECONDS, to_go)


def _aim(watch: BankWatch) -> float:
    """Volts per cell that the bank is charged to: as configured, else as is usual."""
    given = watch.bank.set_points.absorption
    return watch.bank.chemistry.absorption.typical if given is None else given / watch.cells


def _high_limit(watch: BankWatch) -> float:
    given = watch.bank.protection.high_cell_volts
    return HIGH_CELL if given is None else given


def _near_high(watch: BankWatch) -> float:
    aim = watch.bank.set_points.absorption
    limit = _high_limit(watch)
    return limit if aim is None else max(limit, aim / watch.cells + BALANCING)


def _high_detail(watch: BankWatch) -> Figures:
    return (("amps", watch.amps), ("highest", watch.cell.highest_volts or 0.0))


def _lowest_while_drawn(watch: BankWatch) -> float | None:
    """Volts of the lowest cell, else of the mean; those of a sound one while nothing is drawn."""
    if watch.rate >= -IDLE_RATE:
        return HIGH_CELL
    lowest = watch.cell.lowest_volts
    return watch.volts_per_cell if lowest is None else lowest


def _near_low(watch: BankWatch) -> float:
    given = watch.bank.protection.low_cell_volts
    return (LOW_CELL if given is None else given) + LOW_MARGIN


def _coldest_while_charging(watch: BankWatch) -> float | None:
    coldest = watch.coldest
    if coldest is None:
        return None
    return coldest if watch.rate > 5.0 * IDLE_RATE else REFERENCE_CELSIUS


def _near_cold(watch: BankWatch) -> float:
    given = watch.bank.protection.low_celsius
    return (watch.bank.chemistry.charge_celsius[0] if given is None else given) + COLD_MARGIN


def _near_hot(watch: BankWatch) -> float:
    given = watch.bank.protection.high_celsius
    return (watch.bank.chemistry.charge_celsius[1] if given is None else given) - HOT_MARGIN


def _amps_detail(watch: BankWatch) -> Figures:
    return (("amps", abs(watch.amps)),)


def _closed(permitted: bool | None) -> float | None:
    return None if permitted is None else 0.0 if permitted else 1.0


def _cut(watch: BankWatch) -> float | None:
    """Seen, not told: where the battery reports its sides there is nothing to guess."""
    return None if watch.discharge_permitted is not None else float(watch.cut.open)


def _cut_detail(watch: BankWatch) -> Figures:
    return (("volts", watch.cut.volts), ("amps", -watch.cut.amps))


def _why_charge(watch: BankWatch) -> str:
    """What is seen that may be why the charge side opened, the likeliest first."""
    highest, coldest, warmest = watch.cell.highest_volts, watch.coldest, watch.warmest
    seen = []
    if highest is not None and highest >= HIGH_SEEN:
        seen.append(f"the highest cell stands at {highest:.3f} V")
    if coldest is not None and coldest <= COLD_SEEN:
        seen.append(f"it is {coldest:.1f} °C cold")
    if warmest is not None and warmest >= HOT_SEEN:
        seen.append(f"it is {warmest:.1f} °C hot")
    return "; ".join(seen) + "; " if seen else "none of what is measured says why; "


def _why_discharge(watch: BankWatch) -> str:
    """What is seen that may be why the discharge side opened, the likeliest first."""
    lowest, warmest = watch.cell.lowest_volts, watch.warmest
    seen = []
    if lowest is not None and lowest <= LOW_SEEN:
        seen.append(f"the lowest cell stands at {lowest:.3f} V")
    if warmest is not None and warmest >= HOT_SEEN:
        seen.append(f"it is {warmest:.1f} °C hot")
    if watch.cut.amps < -CURRENT_SEEN * watch.bank.amp_hours:
        seen.append(f"{-watch.cut.amps:.0f} A were drawn just before")
    return "; ".join(seen) + "; " if seen else "none of what is measured says why; "


CONDITIONS: Final[tuple[Condition[BankWatch], ...]] = (
    Condition(
        name="cell-near-high-limit",
        words="A cell is nearly as high as the battery's protection lets it: charging will stop.",
        causes=(
            "cells that are no longer equally full",
            "a set-point too high for this battery",
            "too much current near full",
        ),
        first="Lower the charging current or the set-point, so that the cells can be balanced.",
        priority=Priority.MEDIUM,
        figure=_highest_soon,
        limit=_near_high,
        says="highest cell {highest:.3f} V at {amps:.1f} A in, {figure:.3f} V within three minutes",
        source="the config's high_cell_volts, else 3.65 V (common practice); at the cell's pace",
        inputs=(Quantity.HIGHEST_CELL_VOLTS,),
        deadband=0.02,
        on_delay=10.0,
        off_delay=120.0,
        detail=_high_detail,
        cadence=Cadence.FAST,
        chemistries=LFP,
        unit="volts_per_cell",
        possible=(3.3, 4.2),
    ),
    Condition(
        name="cell-near-low-limit",
        words="A cell is nearly as low as the battery's protection lets it: loads will lose power.",
        causes=("a bank that is nearly empty", "a weak cell", "a large load on a cold bank"),
        first="Switch loads off, or charge now.",
        priority=Priority.MEDIUM,
        figure=_lowest_while_drawn,
        limit=_near_low,
        below=True,
        says="{figure:.3f} V at {amps:.1f} A drawn, told from {limit:.2f} V",
        source="0.3 V before the config's low_cell_volts, else 2.6 V (common practice)",
        inputs=PAIR,
        deadband=0.1,
        on_delay=30.0,
        off_delay=120.0,
        detail=_amps_detail,
        cadence=Cadence.FAST,
        chemistries=LFP,
        unit="volts_per_cell",
        possible=(2.2, 3.3),
    ),
    Condition(
        name="charge-near-cold-limit",
        words="The bank is charged close to the cold at which its protection forbids it.",
        causes=("a cold night in an unheated compartment",),
        first="Warm the bank, or charge it with less until it is warmer.",
        priority=Priority.LOW,
        figure=_coldest_while_charging,
        limit=_near_cold,
        below=True,
        says="{figure:.1f} °C with {amps:.1f} A flowing in, told from {limit:.0f} °C",
        source="2 °C above the config's low_celsius, else 0 °C (common practice by cell sheets)",
        inputs=(Quantity.BANK_CELSIUS, Quantity.BANK_AMPS),
        deadband=1.0,
        on_delay=300.0,
        off_delay=3600.0,
        detail=_amps_detail,
        chemistries=LFP,
        unit="celsius",
        possible=(-20.0, 20.0),
    ),
    Condition(
        name="bank-near-hot-limit",
        words="The bank is close to the heat at which its protection opens.",
        causes=("high current for long", "heat from an engine or from the sun", "no ventilation"),
        first="Lower the current and ventilate.",
        priority=Priority.MEDIUM,
        figure=lambda watch: watch.warmest,
        limit=_near_hot,
        says="{figure:.1f} °C, told from {limit:.0f} °C",
        source="5 °C below the config's high_celsius, else 60 °C (common practice by cell sheets)",
        inputs=(Quantity.BANK_CELSIUS,),
        deadband=2.0,
        on_delay=120.0,
        off_delay=300.0,
        chemistries=LFP,
        unit="celsius",
        possible=(30.0, 80.0),
    ),
    Condition(
        name="charge-side-open",
        words="The battery's protection has opened its charge side: nothing can charge it.",
        causes=("a cell too high", "too cold or too hot to charge", "too much current"),
        first="Let the bank discharge a little; look at cell voltages and temperature.",
        priority=Priority.MEDIUM,
        figure=lambda watch: _closed(watch.charge_permitted),
        limit=lambda _: 0.5,
        adds=_why_charge,
        says="the battery does not permit charging",
        source="the battery's own report",
        inputs=(Quantity.CHARGE_PERMITTED,),
        on_delay=10.0,
        off_delay=60.0,
        cadence=Cadence.FAST,
    ),
    Condition(
        name="discharge-side-open",
        words="The battery's protection has opened its discharge side: loads are without it.",
        causes=("a cell empty", "too much current drawn", "too hot"),
        first="Switch loads off and charge.",
        priority=Priority.HIGH,
        figure=lambda watch: _closed(watch.discharge_permitted),
        limit=lambda _: 0.5,
        adds=_why_discharge,
        says="the battery does not permit discharging",
        source="the battery's own report",
        inputs=(Quantity.DISCHARGE_PERMITTED,),
        on_delay=10.0,
        off_delay=60.0,
        cadence=Cadence.FAST,
    ),
    Condition(
        name="discharge-cut-off",
        words=(
            "The load on a nearly empty bank stopped at once: its protection seems to have opened "
            "its discharge side. Loads are without it, and it is not dead."
        ),
        causes=("a cell empty", "too much current drawn", "a main switch turned off just then"),
        first="Switch loads off and charge: most protections close again once charge comes in.",
        priority=Priority.HIGH,
        figure=_cut,
        limit=lambda _: 0.5,
        says="{volts:.2f} V with {amps:.1f} A drawn, and then nothing at all",
        source="common practice: protections open at 2.5 to 2.8 V of the lowest cell",
        inputs=PAIR,
        on_delay=30.0,
        off_delay=60.0,
        detail=_cut_detail,
        cadence=Cadence.FAST,
        chemistries=LFP,
    ),
)
