"""The bar of a playing capture in words: how it plays, where it is."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Final

from monitor.words.days import named_day
from monitor.words.figures import span

PAUSED: Final = "paused"
AT_ITS_END: Final = "at its end"
#: While the next event is looked for, and while a place that was jumped to is worked out.
LOOKING: Final = "looking"
GETTING_THERE: Final = "getting there"


def on_the_way(share: float) -> str:
    """How much of the way to a place that was jumped to is worked out: `getting there 40 %`."""
    return f"{GETTING_THERE} {math.floor(100.0 * share)} %"


def rate(figure: float) -> str:
    """`x60`: seconds of the capture in a second."""
    return f"x{figure:g}" if math.isfinite(figure) else LOOKING


def playing(state: str) -> str:
    """As wide for every rate, so that what stands beside it does not move."""
    return f"capture {state:<7}"


def place(gone: float, length: float) -> str:
    return f"{span(gone)} of {span(length)}"


def day(moment: datetime) -> str:
    return named_day(moment)
