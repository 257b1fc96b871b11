"""Where the sun stands: clear-sky geometry for a place and a moment of Unix time.

Declination and the equation of time are the usual short series (Spencer 1971 and Woolf 1968, from
memory): sunrise comes out within about five minutes below the polar circles. Nothing here knows of
hills, trees or the tilt of a panel.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

DAY_SECONDS: Final = 86400.0
#: The sun's upper edge touches the horizon, bent by the air: its middle stands this low (standard).
RISES_DEGREES: Final = -0.833
#: The sun is looked for in steps of this, then halved down to seconds.
SCAN_SECONDS: Final = 600.0
#: Unix time is in 1970: the first of January was day 1 of its year.
_YEAR_DAYS: Final = 365.2425


class Place(NamedTuple):
    """Degrees; north and east are positive."""

    latitude: float
    longitude: float


def height(place: Place, unix: float) -> float:
    """Sine of the sun's height above the horizon."""
    day = unix / DAY_SECONDS % _YEAR_DAYS
    turn = 2.0 * math.pi * day / _YEAR_DAYS
    declination = (
        0.006918
        - 0.399912 * math.cos(turn)
        + 0.070257 * math.sin(turn)
        - 0.006758 * math.cos(2.0 * turn)
        + 0.000907 * math.sin(2.0 * turn)
    )
    season = 2.0 * math.pi * (day - 80.0) / 364.0
    late_minutes = 9.87 * math.sin(2.0 * season) - 7.53 * math.cos(season) - 1.5 * math.sin(season)
    hours = unix / 3600.0 % 24.0 + place.longitude / 15.0 + late_minutes / 60.0
    angle = 2.0 * math.pi * (hours - 12.0) / 24.0
    flat = math.radians(place.latitude)
    return math.sin(flat) * math.sin(declination) + math.cos(flat) * math.cos(
        declination
    ) * math.cos(angle)


def up(place: Place, unix: float) -> bool:
    return height(place, unix) > math.sin(math.radians(RISES_DEGREES))


def clear_share(place: Place, unix: float) -> float:
    """What a clear sky gives a level panel, as a share of the sun overhead (Haurwitz 1945)."""
    sine = height(place, unix)
    return sine * math.exp(-0.059 / sine + 0.059) if sine > 0.01 else 0.0


def next_sunrise(place: Place, unix: float) -> float | None:
    """Unix time of the next sunrise within two days; None where the sun does not rise."""
    return _next(place, unix, rises=True)


def next_sunset(place: Place, unix: float) -> float | None:
    """Unix time of the next sunset within two days; None where the sun does not set."""
    return _next(place, unix, rises=False)


def _next(place: Place, unix: float, rises: bool) -> float | None:
    before = up(place, unix)
    moment = unix
    while moment < unix + 2.0 * DAY_SECONDS:
        after = up(place, moment + SCAN_SECONDS)
        if after is rises and before is not rises:
            return _crossing(place, moment, moment + SCAN_SECONDS, rises)
        before = after
        moment += SCAN_SECONDS
    return None


def _crossing(place: Place, low: float, high: float, rises: bool) -> float:
    while high - low > 1.0:
        middle = 0.5 * (low + high)
        if up(place, middle) is rises:
            high = middle
        else:
            low = middle
    return high
