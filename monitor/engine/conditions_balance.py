"""Conditions of balance: halves or cells of a bank that are no longer equally full."""

from __future__ import annotations

from typing import Final

from adapters.reading import Quantity
from monitor.engine.condition import CAUTION_ACID, LEAD, LFP, Condition, Figures
from monitor.engine.snapshot import Priority, Stage
from monitor.engine.watch import BankWatch

#: Volts per cell between the means of two halves. At rest, under load and in float: what an acid
#: spread of 0.030 makes, which wants equalizing (common practice; volts = gravity + 0.845). While
#: it gasses cells differ by more and are none the worse (our choice: twice).
HALVES: Final = 0.03
HALVES_GASSING: Final = 0.06
GASSING: Final = frozenset({Stage.BULK, Stage.ABSORPTION, Stage.EQUALIZE})
#: LFP cells, volts: on the flat part of the curve that is more than thirty percent of charge; at
#: its ends a few percent make tenths of a volt, and balancing needs such a difference to work.
CELLS_FLAT: Final = 0.05
CELLS_ENDS: Final = 0.25


def _halves(watch: BankWatch) -> float | None:
    halves = watch.followed.balance.halves
    return None if halves is None else abs(halves)


def _halves_limit(watch: BankWatch) -> float:
    return HALVES_GASSING if watch.stage in GASSING else HALVES


def _halves_detail(watch: BankWatch) -> Figures:
    balance = watch.followed.balance
    return (("upper", balance.upper), ("lower", balance.lower))


def _cells(watch: BankWatch) -> float | None:
    return watch.followed.balance.cells


def _cells_limit(watch: BankWatch) -> float:
    return CELLS_FLAT if watch.followed.balance.flat else CELLS_ENDS


def _cells_detail(watch: BankWatch) -> Figures:
    balance = watch.followed.balance
    return (("highest", balance.highest), ("lowest", balance.lowest))


CONDITIONS: Final[tuple[Condition[BankWatch], ...]] = (
    Condition(
        name="halves-apart",
        words=(
            "The two halves of the bank stand at different voltages: one is charged too much and "
            "the other too little, and both suffer."
        ),
        causes=(
            "a load or charger connected to one half only",
            "one battery older or weaker than the other",
            "a bad link between the batteries",
        ),
        first="Look for wires to the middle of the bank, then charge each half by itself.",
        caution=CAUTION_ACID,
        priority=Priority.MEDIUM,
        figure=_halves,
        limit=_halves_limit,
        says=(
            "upper half {upper:.2f} V, lower half {lower:.2f} V: {figure:.3f} V per cell apart, "
            "at most {limit:.3f} V"
        ),
        source="an acid spread of 0.030 (common practice), twice that while gassing (our choice)",
        inputs=(Quantity.LOWER_HALF_VOLTS, Quantity.UPPER_HALF_VOLTS),
        deadband=0.008,
        on_delay=1800.0,
        off_delay=1800.0,
        detail=_halves_detail,
        chemistries=LEAD,
        unit="volts_per_cell",
        possible=(0.005, 0.5),
    ),
    Condition(
        name="cells-apart",
        words=(
            "The cells are no longer equally full: the fullest ends every charge and the emptiest "
            "every discharge, so that much of the bank cannot be used."
        ),
        causes=(
            "charges that end before the cells are balanced",
            "one cell weaker than the others, or with a bad connection",
            "balancing that is off or too weak",
        ),
        first="Hold absorption longer a few times, so that balancing can work; then look again.",
        priority=Priority.LOW,
        figure=_cells,
        limit=_cells_limit,
        says="{lowest:.3f} to {highest:.3f} V: {figure:.3f} V apart, at most {limit:.2f} V",
        source=(
            "common practice: 50 mV on the flat part of the curve; at its ends, where balancing "
            "works, 250 mV (our choice)"
        ),
        inputs=(),
        deadband=0.02,
        on_delay=1800.0,
        off_delay=1800.0,
        detail=_cells_detail,
        chemistries=LFP,
        unit="volts",
        possible=(0.01, 1.0),
    ),
)
