"""Figures of a sizing sheet in the units people have: metres with feet, °C with °F."""

from __future__ import annotations

from monitor.sizing.cable import METRES_PER_FOOT


def metres(figure: float) -> str:
    return f"{figure:.1f} m ({figure / METRES_PER_FOOT:.0f} ft)"


def both_celsius(figure: float) -> str:
    return f"{figure:.0f} °C ({1.8 * figure + 32:.0f} °F)"


def hours(figure: float | None) -> str:
    """`5 h 45 min`, `under a minute`, `over 48 h` where the horizon came first."""
    if figure is None:
        return "over 48 h"
    minutes = round(60 * figure)
    if minutes < 60:
        return f"{minutes} min" if minutes else "under 1 min"
    whole, rest = divmod(minutes, 60)
    return f"{whole} h {rest} min" if rest and whole < 10 else f"{round(figure)} h"


def full_after(figure: float | None) -> str:
    return "not full within 48 h" if figure is None else f"full after {hours(figure)}"


def percent(fraction: float | None, digits: int = 0) -> str:
    return "--" if fraction is None else f"{100 * fraction:.{digits}f} %"


def amps(figure: float | None) -> str:
    if figure is None:
        return "--"
    return f"{figure:.1f} A" if abs(figure) < 20 and figure % 1 else f"{figure:.0f} A"


def square_cm(figure: float) -> str:
    return f"{figure:.1f} cm2 ({figure / 2.54**2:.1f} in2)"
