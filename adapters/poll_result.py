"""What a poll gave, looked at before anybody believes it: for whoever writes an adapter.

An adapter that gives None, text or a bare tuple would fail far from where it is wrong, or fall
silent without a reason. Here its author is told in one line: which adapter, what it gave, and what
was expected.
"""

from __future__ import annotations

from math import isfinite
from typing import Final

from adapters.adapter import Adapter, LinkLost, Values
from adapters.reading import QUANTITIES, Channel, Quantity

_EXPECTED: Final = 'expected pairs as in ((Channel("house", Quantity.BANK_VOLTS), 12.6),)'


class AdapterFault(LinkLost):
    """The adapter itself is wrong; reopening is all that can be tried."""


async def polled(adapter: Adapter) -> Values:
    """One poll; `AdapterFault` where it gives anything but a set of values."""
    values = await adapter.poll()
    if wrong := wrong_in(values):
        raise AdapterFault(f"fault in the adapter of {adapter.name}: poll gave {wrong}")
    return values


def wrong_in(values: object) -> str:
    """What is wrong with a set of values, in words with what to do; empty when nothing is."""
    if not isinstance(values, tuple):
        return f"{_kind(values)}; {_EXPECTED}, or () where there is nothing"
    for pair in values:
        if not isinstance(pair, tuple) or len(pair) != 2:
            return f"{_kind(pair)} among its values; {_EXPECTED}"
        channel, figure = pair
        if not isinstance(channel, Channel):
            return f"{_kind(channel)} as a channel; {_EXPECTED}"
        if not all(map(isinstance, channel, (str, Quantity))):
            return f"a channel of {_kind(channel[0])} and {_kind(channel[1])}; {_EXPECTED}"
        if wrong := _wrong_figure(channel.quantity, figure):
            return f"{wrong} as {channel.quantity.value} of {channel.owner}"
    return ""


def _wrong_figure(quantity: Quantity, figure: object) -> str:
    if QUANTITIES[quantity].unit == "text":
        return "" if isinstance(figure, str) else f"{_kind(figure)}, expected text,"
    if isinstance(figure, bool) or not isinstance(figure, float | int):
        return f"{_kind(figure)}, expected a number,"
    return "" if isfinite(figure) else f"{figure}, no number; leave out what is missing,"


def _kind(value: object) -> str:
    """`None`, `a list ([1, 2])`: its type and what it holds, short enough for a line."""
    if value is None:
        return "None"
    held = " ".join(repr(value).split())
    return (
        f"a value of type {type(value).__name__} ({held if len(held) <= 40 else held[:37] + '...'})"
    )
