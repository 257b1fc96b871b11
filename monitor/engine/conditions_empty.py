"""Conditions of a bank that is empty, or nearly so: under load, at rest, as planned, by cells."""

from __future__ import annotations

from typing import Final

from adapters.reading import Quantity
from monitor.engine.condition import (
    CAUTION_ACID,
    Cadence,
    Condition,
    Figures,
)
from monitor.engine.snapshot import Priority
from monitor.engine.watch import BankWatch

VOLTS: Final = (Quantity.BANK_VOLTS,)
PAIR: Final = (Quantity.BANK_VOLTS, Quantity.BANK_AMPS)

#: Volts per cell at which a lead-acid battery is empty at the 20 h rate (IEC 60896: 1.75 V), and
#: an LFP cell as good as (common practice: 2.8 V, before protection at 2.5 V).
EMPTY_PER_CELL: Final = {True: 1.75, False: 2.8}
#: An LFP cell that rests below this has a few percent left (the rest voltages of the chemistry
#: table: 3.09 V at a tenth).
EMPTY_LFP_AT_REST: Final = 3.0
#: A bank shows where it rests after half an hour (our choice: hours would be exact, but a bank
#: that is empty should not wait for them).
REST_SECONDS: Final = 1800.0
#: Inverters give up at 10.0 to 10.5 V of 12 V (common practice); told so far above it. Where no
#: inverter is configured, only a load beyond this share of C20 is taken for one (our choice).
INVERTER_VOLTS: Final = 10.5
INVERTER_MARGIN: Final = 0.3
INVERTER_RATE: Final = 0.25
#: A state of charge that is less sure than this is loose (our choice).
LOOSE_SD: Final = 0.1
#: Volts below which a single cell is harmed: LFP cell sheets end a discharge at 2.5 V; a lead-acid
#: cell far below the 1.75 V of the others is about to be reversed (common practice).
DEAD_CELL: Final = {True: 1.6, False: 2.5}


def _empty(watch: BankWatch) -> float:
    return EMPTY_PER_CELL[watch.bank.chemistry.lead]


def _empty_at_rest(watch: BankWatch) -> float:
    curve = watch.bank.chemistry.rest_volts
    return curve[0][1] if watch.bank.chemistry.lead else EMPTY_LFP_AT_REST


def _rested(watch: BankWatch) -> float | None:
    """Volts per cell after half an hour of nothing; before that only what shows it is not empty."""
    volts = watch.volts_per_cell
    rested = watch.idle_seconds >= REST_SECONDS
    return volts if rested or volts >= _empty_at_rest(watch) else None


def _carried(watch: BankWatch) -> float:
    """Volts while an inverter may be what draws: nominal volts while surely none does."""
    given = watch.bank.inverter_cut_off_volts
    draws = watch.rate < -INVERTER_RATE
    return watch.volts if draws or given is not None else float(watch.bank.nominal_volts)


def _near_cut_off(watch: BankWatch) -> float:
    per_12 = watch.bank.nominal_volts / 12.0
    given = watch.bank.inverter_cut_off_volts
    cut_off = INVERTER_VOLTS * per_12 if given is None else given
    return cut_off + INVERTER_MARGIN * per_12


def _load_detail(watch: BankWatch) -> Figures:
    return (
        ("amps", -watch.amps),
        ("cut_off", _near_cut_off(watch) - INVERTER_MARGIN * (watch.bank.nominal_volts / 12.0)),
    )


def _low_soc(watch: BankWatch) -> float | None:
    """The state of charge with its doubt on its side, while that too is below the limit.

    One standard deviation, two where the estimate is loose: it then began from a voltage alone.

    A bank that may be anywhere is not said to be low: the condition begins when the estimate and
    its deviation are both below, ends when the estimate is back, and is left as it is between.
    """
    lowest, soc = watch.bank.lowest_soc, watch.soc
    if lowest is None or soc is None or soc >= lowest:
        return None if lowest is None else soc
    sd = watch.soc_sd or 0.0
    at_most = soc + (sd if sd <= LOOSE_SD else 2.0 * sd)
    return at_most if at_most < lowest else None


def _lowest_soc(watch: BankWatch) -> float:
    return watch.bank.lowest_soc or 0.0


def _soc_detail(watch: BankWatch) -> Figures:
    return (("soc", watch.soc or 0.0), ("soc_sd", watch.soc_sd or 0.0))


def _dead_cell(watch: BankWatch) -> float:
    return DEAD_CELL[watch.bank.chemistry.lead]


CONDITIONS: Final[tuple[Condition[BankWatch], ...]] = (
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
        unit="volts_per_cell",
        possible=(1.0, 3.5),
    ),
    Condition(
        name="under-voltage-at-rest",
        words="The bank rests at a voltage at which it is empty: it sulfates, or its cells suffer.",
        causes=("a bank left empty", "a draw that nobody sees", "a dead cell"),
        first="Charge it today; find what drew it down.",
        priority=Priority.MEDIUM,
        figure=_rested,
        limit=_empty_at_rest,
        below=True,
        says="{figure:.2f} V per cell with nothing drawn, empty at {limit:.2f} V",
        source="rest voltage of an empty bank, by chemistry (BCI, secondary copies); LFP 3.0 V",
        inputs=PAIR,
        deadband=0.02,
        on_delay=60.0,
        off_delay=300.0,
        unit="volts_per_cell",
        possible=(1.5, 3.4),
    ),
    Condition(
        name="inverter-cut-off-near",
        words="The bank sags so far under load that an inverter is about to switch off.",
        causes=(
            "a load beyond what the bank can carry",
            "a bank that is nearly empty, cold or old",
            "thin or loose cables between bank and inverter",
        ),
        first="Switch the largest load off, or start a source.",
        priority=Priority.MEDIUM,
        figure=_carried,
        limit=_near_cut_off,
        below=True,
        says="{figure:.2f} V while {amps:.0f} A are drawn; cut-off at {cut_off:.1f} V",
        source="0.3 V above the config's inverter_cut_off_volts, else 10.5 V (common practice)",
        inputs=PAIR,
        deadband=0.3,
        on_delay=20.0,
        off_delay=120.0,
        detail=_load_detail,
        cadence=Cadence.FAST,
        unit="volts",
        possible=(9.0, 56.0),
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
        source="the config, lowest_soc, with a standard deviation of the estimate, two where loose",
        inputs=PAIR,
        deadband=0.03,
        on_delay=300.0,
        off_delay=600.0,
        detail=_soc_detail,
        unit="fraction",
        possible=(0.0, 0.95),
    ),
    Condition(
        name="cell-under-voltage",
        words="One cell is drawn below what a cell survives: it is empty before the others.",
        causes=("a weak cell, or cells that are no longer equally full", "a bank that is empty"),
        first="Switch loads off and charge gently; look at the cells one by one.",
        caution=CAUTION_ACID,
        priority=Priority.HIGH,
        figure=lambda watch: watch.cell.lowest_volts,
        limit=_dead_cell,
        below=True,
        says="lowest cell {figure:.3f} V, at least {limit:.2f} V",
        source="cell sheets: LFP 2.5 V; lead-acid 1.6 V under load (common practice)",
        inputs=(Quantity.LOWEST_CELL_VOLTS,),
        deadband=0.1,
        on_delay=30.0,
        off_delay=300.0,
        cadence=Cadence.FAST,
        unit="volts_per_cell",
        possible=(0.5, 3.4),
    ),
)
