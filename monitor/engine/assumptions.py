"""What a time to full takes for granted, in words: a line for each thing that may turn out else."""

from __future__ import annotations

from monitor.bank import Bank
from monitor.engine.charge_run import Goal
from monitor.engine.snapshot import Stage


def assumptions(
    bank: Bank, goal: Goal, volts: float, amps: float, capacity_ah: float, now: Stage, guessed: bool
) -> list[str]:
    """The source holds `volts` per cell and can give `amps`; `guessed`: no set-point is known, and
    no plateau of this source was seen."""
    held = volts * bank.cells
    words = [f"the source goes on holding {held:.2f} V"]
    if now == Stage.BULK:
        words = [f"the source goes on giving {amps:.1f} A until {held:.2f} V, and holds that"]
        if guessed:
            words.append("absorption set-point not known: what is usual for the chemistry")
    if goal.end_rate is not None:
        end = goal.end_rate * capacity_ah
        words.append(f"full counts when no more than {end:.1f} A flow at the held voltage")
    if goal.hold_hours is not None:
        words.append(f"absorption ends by its timer in {goal.hold_hours:.1f} h at the latest")
    if goal.soc is not None:
        words.append(f"a source of one voltage never ends a charge: {goal.soc:.0%} counts as full")
    words.append("the usable capacity as it is known, loads as now")
    return words
