"""What a person types in answer to a question, read strictly and with its unit."""

from __future__ import annotations

from typing import Final

from monitor.commission.check import NO, YES, Ask
from monitor.logbook import EntryError, celsius_of, figure

_YES: Final = frozenset({"yes", "y"})
_NO: Final = frozenset({"no", "n"})


def value_of_entry(ask: Ask, text: str) -> float | str:
    """A figure, or yes or no; EntryError in one line."""
    low = text.strip().lower()
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


def _plain(text: str, unit: str) -> str:
    """Volts where millivolts are asked for, and the decimal comma of half the world."""
    bare = text.strip().replace(",", ".") if text.count(",") == 1 else text.strip()
    if unit == "mV" and bare.lower().endswith("v") and not bare.lower().endswith("mv"):
        try:
            return f"{float(bare[:-1]) * 1000.0:g}"
        except ValueError:
            return bare
    return bare


__all__ = ["EntryError", "value_of_entry"]
