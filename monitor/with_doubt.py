"""A figure no finer than its doubt, for whatever is shown or printed."""

from __future__ import annotations

import math
from typing import Final

#: No figure here is known finer than this many decimals.
_FINEST: Final = 5


def with_doubt(figure: float, doubt: float, finest: int = _FINEST) -> tuple[str, str]:
    """A figure and its doubt, in the same unit, no finer than they are worth: (14.81, 0.05).

    The doubt, above nought, gets one significant digit, two where it begins with a 1 (JCGM
    100:2008, 7.2.6: two at most; dropping the second of 0.14 would move it by a third), the figure
    the same last place, and that no finer than `finest` decimals, which is how finely it was read.
    """
    places = min(_places(doubt), finest)
    least = 10.0**-places
    text = f"{round(figure, places):.{max(places, 0)}f}"
    told = max(round(doubt, places), least if places == finest else 0.0)
    return _unsigned_nought(text), f"{told:.{max(places, 0)}f}"


def _places(doubt: float) -> int:
    """Decimals of a doubt; negative where it is told in tens or hundreds."""
    power = math.floor(math.log10(doubt))
    lead = doubt / 10.0**power
    if lead >= 9.5:  # rounded, it begins with a 1 a place further up
        lead, power = 1.0, power + 1
    return 1 - power if lead < 1.95 else -power


def _unsigned_nought(text: str) -> str:
    return text.removeprefix("-") if float(text) == 0.0 else text
