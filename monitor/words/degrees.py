"""Temperatures inside sentences, in the unit in which the person reads them.

The engine and the checks of a commissioning say what they say in degrees Celsius: their sentences
go into journals and records, where one unit must stand. On a screen they are turned at the edge.
A temperature moves by 32 °F, a difference of temperatures does not; which of the two a figure is
stands in the words around it, and a test holds every such sentence of the program against what it
must become. `mV per °C` stays as it is: chargers and the configuration know no other.
"""

from __future__ import annotations

import dataclasses
import re
from enum import Enum
from typing import Final, TypeVar

from monitor.words.figures import degree_unit, degrees

T = TypeVar("T")

_FIGURE: Final = r"[-+]?\d+(?:\.\d+)?"
#: `18 °C`, `0 to 60 °C`, `18.2 ±1.5 °C`.
_CELSIUS: Final = re.compile(
    rf"(?:(?P<low>{_FIGURE})(?P<between> to | and |\.\.))?"
    rf"(?P<figure>{_FIGURE})(?: ±(?P<doubt>{_FIGURE}))?\s°C(?!/)"
)
#: Words before a figure, and after it, that make it a difference.
_BEFORE: Final = re.compile(
    r"(?:\bby|every|doubled for|good to|probes to|moved for"
    r"|less thermometer:?|was warmed:?|on the probe:?|above the air:?|changed by)"
    r"(?: at least| at most)? $"
)
_AFTER: Final = re.compile(
    r" (?:above its|above the|below the|over ambient|over it|over the air|margin|an hour|only"
    r"|are needed|wanted|off\b|more than|less than)"
)
#: A limit is told after what was found, and is of the same kind.
_EXPECTED: Final = re.compile(r"expected(?: at least| at most)? $")


def in_degrees(words: str, fahrenheit: bool) -> str:
    """The sentence, its temperatures in °F where that is wanted."""
    if not fahrenheit or "°C" not in words:
        return words
    difference = False

    def turned(found: re.Match[str]) -> str:
        nonlocal difference
        before, after = words[: found.start()], words[found.end() :]
        if not _EXPECTED.search(before):
            difference = bool(_BEFORE.search(before) or _AFTER.match(after))
        low, doubt = found["low"], found["doubt"]
        text = f"{_turned(low, difference)}{found['between']}" if low else ""
        text += _turned(found["figure"], difference)
        if doubt:
            text += f" ±{_turned(doubt, True)}"
        return f"{text} {degree_unit(True)}"

    return _CELSIUS.sub(turned, words)


def _turned(figure: str, difference: bool) -> str:
    """As many digits as it had."""
    digits = len(figure.partition(".")[2])
    celsius = float(figure)
    turned = 1.8 * celsius if difference else degrees(celsius, True)
    text = f"{turned:{'+' if figure.startswith('+') else ''}.{digits}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def told_in(value: T, fahrenheit: bool) -> T:
    """The same value with every sentence inside it turned; the value itself where none changes."""
    return _told(value) if fahrenheit else value


def _told(value: T) -> T:
    made: object = value
    if isinstance(value, Enum):
        return value
    if isinstance(value, str):
        made = in_degrees(value, True)
    elif isinstance(value, tuple | list):
        parts = [_told(each) for each in value]
        if any(new is not old for new, old in zip(parts, value, strict=True)):
            make = getattr(type(value), "_make", type(value))
            made = make(parts)
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        changed = {
            field.name: new
            for field in dataclasses.fields(value)
            if (new := _told(old := getattr(value, field.name))) is not old
        }
        if changed:
            made = dataclasses.replace(value, **changed)
    return made  # type: ignore[return-value]  # of the type that came in
