"""Conditions of a bank that is laid up: nobody lives on it, and how it is stored is what counts."""

from __future__ import annotations

from typing import Final

from adapters.reading import Quantity
from monitor.engine.condition import CAUTION_POSTS, LFP, Condition, Figures
from monitor.engine.snapshot import Priority
from monitor.engine.watch import BankWatch

PAIR: Final = (Quantity.BANK_VOLTS, Quantity.BANK_AMPS)
#: Stored lead-acid is recharged before it falls below this (common practice: 75 to 80 %, about
#: 12.4 V of 12), or its sulfate hardens.
LEAST_LEAD: Final = 0.75
#: Stored LFP must keep a reserve for what its own electronics draw (common practice).
LEAST_LFP: Final = 0.2
#: LFP is stored half full; above this it ages faster without any use (common practice).
MOST_LFP: Final = 0.8


def _surely_at_most(watch: BankWatch) -> float | None:
    return None if (soc := _stored(watch)) is None else soc[0] + soc[1]


def _surely_at_least(watch: BankWatch) -> float | None:
    return None if (soc := _stored(watch)) is None else soc[0] - soc[1]


def _stored(watch: BankWatch) -> tuple[float, float] | None:
    """State of charge and its deviation of a bank that is laid up."""
    if not watch.bank.laid_up or watch.soc is None or watch.soc_sd is None:
        return None
    return watch.soc, watch.soc_sd


def _least(watch: BankWatch) -> float:
    return LEAST_LEAD if watch.bank.chemistry.lead else LEAST_LFP


def _soc_detail(watch: BankWatch) -> Figures:
    soc, sd = _stored(watch) or (0.0, 0.0)
    return (("percent", 100.0 * soc), ("sd", 100.0 * sd))


CONDITIONS: Final[tuple[Condition[BankWatch], ...]] = (
    Condition(
        name="stored-too-low",
        words="The bank runs down while it is laid up: stored so it loses capacity for good.",
        causes=(
            "something still draws: an alarm, a gas detector, a computer such as this one",
            "its own loss over months, faster when warm",
            "a charger or panel that should keep it and does not",
        ),
        first="Charge it fully, then open the bank's disconnect or give it a source that keeps it.",
        caution=CAUTION_POSTS,
        priority=Priority.MEDIUM,
        figure=_surely_at_most,
        limit=_least,
        below=True,
        says="{percent:.0f} % of full, give or take {sd:.0f}, at least {limit:.2f} of it in store",
        source="common practice: recharge stored lead-acid at 75 %; LFP keeps a fifth",
        inputs=PAIR,
        deadband=0.05,
        on_delay=3600.0,
        off_delay=3600.0,
        detail=_soc_detail,
        unit="fraction",
        possible=(0.0, 0.95),
    ),
    Condition(
        name="stored-too-full",
        words="The bank is kept nearly full while it is laid up: LFP ages so without any use.",
        causes=("a charger or panel that was left on", "laid up straight after a full charge"),
        first="Turn the charger off or cover the panel, and draw it down to about half.",
        priority=Priority.LOW,
        figure=_surely_at_least,
        limit=lambda _: MOST_LFP,
        says="{percent:.0f} % of full, give or take {sd:.0f}, at most {limit:.2f} of it in store",
        source="common practice: store LFP half full",
        inputs=PAIR,
        deadband=0.05,
        on_delay=3600.0,
        off_delay=3600.0,
        detail=_soc_detail,
        chemistries=LFP,
        unit="fraction",
        possible=(0.3, 1.0),
    ),
)
