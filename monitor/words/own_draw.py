"""What the computer that watches costs the bank, in one line."""

from __future__ import annotations

from monitor.bank import Bank


def own_amps(bank: Bank) -> float | None:
    """Amps at the nominal voltage, the most it is likely to be; None where nobody measured it."""
    return None if bank.own_watts is None else bank.own_watts / bank.nominal_volts


def own_draw(bank: Bank) -> str:
    """ "this computer: 6 W, 0.50 A, 12 Ah a day, 12 % of the bank", or nothing."""
    amps = own_amps(bank)
    if amps is None:
        return ""
    a_day = 24.0 * amps
    share = 100.0 * a_day / bank.amp_hours
    return (
        f"this computer: {bank.own_watts:g} W, {amps:.2f} A, {_short(a_day)} Ah a day, "
        f"{_short(share)} % of the bank"
    )


def _short(figure: float) -> str:
    return f"{figure:.0f}" if figure >= 9.95 else f"{figure:.1f}"
