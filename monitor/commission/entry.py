"""What a person types in answer to a question, read strictly and with its unit."""

from __future__ import annotations

import re
from datetime import date
from typing import Final

from monitor.commission.check import NO, YES, Ask
from monitor.logbook import EntryError, celsius_of, figure

_YES: Final = frozenset({"yes", "y"})
_NO: Final = frozenset({"no", "n"})

#: What is said for the months that are usual.
USUAL: Final = "usual"
_MONTHS: Final = re.compile(r"(\d{1,2}) ?(?:months?|m)")
_DAY: Final = re.compile(r"\d{4}-\d{2}-\d{2}")


def value_of_entry(ask: Ask, text: str) -> float | str:
    """A figure, yes or no, or a day; EntryError in one line."""
    low = text.strip().lower()
    if ask.date:
        return _day(low, text)
    if not ask.is_figure or ask.or_no:
        if low in _YES and not ask.is_figure:
            return YES
        if low in _NO:
            return NO
        if not ask.is_figure:
            raise EntryError(f"{ask.name}: expected yes or no, found {text!r}")
    if ask.unit == "°C":
        return celsius_of(text)
    return figure(_plain(text, ask.unit), ask.name, ask.unit, ask.low, ask.high)


def months_in(text: str) -> int | None:
    """The months of "6 months", None where it is no such thing."""
    found = _MONTHS.fullmatch(text)
    return int(found[1]) if found and int(found[1]) else None


def _day(low: str, text: str) -> str:
    """`2027-05-01`, `6 months` or `usual`, as it was typed."""
    if low == USUAL or months_in(low) is not None:
        return low
    try:
        if _DAY.fullmatch(low):
            return date.fromisoformat(low).isoformat()
    except ValueError:
        pass
    raise EntryError(
        f"expected a day as in 2027-05-01, or as in 6 months, or {USUAL}, found {text!r}"
    )


def _plain(text: str, unit: str) -> str:
    """Volts where millivolts are asked for, and the decimal comma of half the world."""
    bare = text.strip().replace(",", ".") if text.count(",") == 1 else text.strip()
    if unit == "mV" and bare.lower().endswith("v") and not bare.lower().endswith("mv"):
        try:
            return f"{float(bare[:-1]) * 1000.0:g}"
        except ValueError:
            return bare
    return bare


__all__ = ["USUAL", "EntryError", "months_in", "value_of_entry"]
