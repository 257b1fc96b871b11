"""How fast a recording plays: recorded seconds a second."""

from __future__ import annotations

import math
from typing import Final

#: What a person writes for a rate without limit.
MAX: Final = "max"


def parse_rate(text: str) -> float:
    """A rate as a person writes it: a number above zero, or "max". Raises `ValueError` in words."""
    if text.strip() == MAX:
        return math.inf
    try:
        rate = float(text)
    except ValueError:
        raise _wrong(repr(text)) from None
    return checked_rate(rate)


def checked_rate(rate: float) -> float:
    """The rate itself; raises `ValueError` in words where it is not above zero."""
    if not rate > 0:
        raise _wrong(str(rate))
    return rate


def _wrong(found: str) -> ValueError:
    return ValueError(f"rate: expected a number above 0, or {MAX}; found {found}")
