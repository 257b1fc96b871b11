"""Conditions of current and of the installation: too much of it, the wrong way round, lost."""

from __future__ import annotations

from typing import Final

from adapters.reading import Quantity
from monitor.engine.condition import (
    CAUTION_ACID,
    CAUTION_POSTS,
    LFP,
    Cadence,
    Condition,
    Figures,
)
from monitor.engine.snapshot import Priority
from monitor.engine.watch import BankWatch

PAIR: Final = (Quantity.BANK_VOLTS, Quantity.BANK_AMPS)


def _charge_limit(watch: BankWatch) -> float:
    return watch.bank.chemistry.charge_amps * 1.1


def _amps_detail(watch: BankWatch) -> Figures:
    most = watch.bank.chemistry.charge_amps * watch.bank.amp_hours
    return (("amps", watch.amps), ("most_amps", most))


def _dead_cell(watch: BankWatch) -> float:
    return 1.0 if watch.votes.dead_cell else 0.0


def _dead_cell_detail(watch: BankWatch) -> Figures:
    votes = watch.votes
    return (
        ("volts_before", votes.volts_before),
        ("volts_after", votes.volts_after),
        ("amps_before", votes.amps_before),
        ("amps", watch.amps),
    )


def _cut(watch: BankWatch) -> float | None:
    """Seen, not told: where the battery reports its sides there is nothing to guess."""
    return None if watch.discharge_permitted is not None else float(watch.cut.open)


def _cut_detail(watch: BankWatch) -> Figures:
    return (("volts", watch.cut.volts), ("amps", -watch.cut.amps))


def _closed(permitted: bool | None) -> float | None:
    return None if permitted is None else 0.0 if permitted else 1.0


CONDITIONS: Final[tuple[Condition[BankWatch], ...]] = (
    Condition(
        name="charge-current-high",
        words="The bank is charged with more current than its chemistry should get.",
        causes=("sources too large for the bank", "several sources at once", "shunt scale wrong"),
        first="Limit the source's current.",
        priority=Priority.MEDIUM,
        figure=lambda watch: watch.rate,
        limit=_charge_limit,
        says="{amps:.0f} A, at most {most_amps:.0f} A",
        source="common practice: 0.25 C lead-acid, 0.5 C LFP, and a tenth more for short",
        inputs=(Quantity.BANK_AMPS,),
        deadband=0.02,
        on_delay=300.0,
        off_delay=300.0,
        detail=_amps_detail,
    ),
    Condition(
        name="shunt-reversed",
        words=(
            "The current reading has the wrong sign: voltage climbs while the meter shows the "
            "bank discharging, and sags while it shows charging. The shunt is wired or configured "
            "backwards; state of charge cannot be trusted."
        ),
        causes=("shunt wired the wrong way round", "sign of the current wrong in the config"),
        first="Turn the sign round in the device description, or swap the shunt's sense wires.",
        caution=CAUTION_POSTS,
        priority=Priority.HIGH,
        figure=lambda watch: -float(watch.votes.trust),
        limit=lambda _: 2.5,
        says="{figure:.0f} steps of the current were answered by the voltage the wrong way round",
        source="physics: more current into a bank raises its voltage",
        inputs=PAIR,
        deadband=2.0,
        on_delay=0.0,
    ),
    Condition(
        name="shorted-cell",
        words=(
            "One cell is shorted: the bank's voltage fell all at once while the current into it "
            "did not. The charger cannot reach its set-point and the bank warms."
        ),
        causes=("a cell shorted by shed material or a failed separator", "a cell reversed"),
        first="Stop charging and disconnect the battery.",
        caution=CAUTION_ACID,
        priority=Priority.HIGH,
        figure=_dead_cell,
        limit=lambda _: 0.5,
        says=(
            "fell at once from {volts_before:.2f} to {volts_after:.2f} V while the current "
            "went from {amps_before:.1f} to {amps:.1f} A"
        ),
        source="physics: a lead-acid cell is 2 V, an LFP cell 3.2 V",
        inputs=PAIR,
        detail=_dead_cell_detail,
        latched=True,
        cadence=Cadence.FAST,
    ),
    Condition(
        name="charge-side-open",
        words="The battery's protection has opened its charge side: nothing can charge it.",
        causes=("a cell too high", "too cold or too hot to charge", "too much current"),
        first="Let the bank discharge a little; look at cell voltages and temperature.",
        priority=Priority.MEDIUM,
        figure=lambda watch: _closed(watch.charge_permitted),
        limit=lambda _: 0.5,
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
