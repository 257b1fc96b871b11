"""A stretch of time as a person says it: `40 s`, `12 min`, `2 h 40 min`, `3 days`."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

_MINUTE: Final = 60.0
_HOUR: Final = 3600.0

#: Seconds in a unit in which a condition counts.
SECONDS_IN: Final[Mapping[str, float]] = {"seconds": 1.0, "minutes": _MINUTE, "hours": _HOUR}


def duration(seconds: float) -> str:
    """In whole units that are over (days to the nearest), and never a minute in seconds.

    No finer than anybody needs: from twenty seconds on in tens, so that a screen stays calm.
    """
    seconds = math.floor(max(0.0, seconds) + 1e-6)
    if seconds < _MINUTE:
        return f"{seconds if seconds < 20 else 10 * (seconds // 10)} s"
    minutes = int(seconds // _MINUTE)
    if minutes < 60:
        return f"{minutes} min"
    hours, rest = divmod(minutes, 60)
    if hours < 10:
        return f"{hours} h {rest} min" if rest else f"{hours} h"
    if hours < 48:
        return f"{hours} h"
    return f"{round(hours / 24)} days"
