"""A figure no finer than its doubt.

The uncertainty is rounded to one significant digit, to two where the first is a 1 (else rounding
could move it by half of itself), and the figure to the same place (JCGM 100:2008, 7.2.6).
"""

from __future__ import annotations

import math
from typing import Final

#: What nobody measures here with more decimals than that.
_MOST_DECIMALS: Final = 6


def with_doubt(figure: float, doubt: float) -> tuple[str, str]:
    """`(14.8103, 0.048)` gives `("14.81", "0.05")`. `doubt` is above nought, in the same unit."""
    places = -math.floor(math.log10(doubt))
    if f"{doubt:.1e}"[0] == "1":
        places += 1
    elif f"{doubt:.0e}"[0] == "1":  # 0.096 becomes 0.1, not 0.10
        places -= 1
    places = min(max(places, 0), _MOST_DECIMALS)
    return _unsigned_nought(f"{figure:.{places}f}"), f"{doubt:.{places}f}"


def _unsigned_nought(text: str) -> str:
    return text.removeprefix("-") if not text.strip("-0.") else text
