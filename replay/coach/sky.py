"""Sun, clouds and air over the coach, by latitude, day of the year and a seed.

Clear-sky irradiance on a level panel is Haurwitz's formula (1945): 1098 cos(z) exp(-0.059/cos(z))
W/m2. Declination and the hour angle are the usual approximations (within a degree); solar time is
taken as universal time plus longitude, without the equation of time (up to 16 minutes).
Clouds: each day has its own share, and within it clouds of minutes come and go.
"""

from __future__ import annotations

from math import cos, exp, pi, radians, sin
from random import Random
from typing import Final

from replay.coach.models import Weather

_DAY: Final = 86400.0
#: A cloud lets about this share of a clear sky through (from memory: 0.2 to 0.4).
_THROUGH_CLOUD: Final = 0.28
#: Mean minutes of a cloud and of a gap at half cover (from memory).
_CLOUD_SECONDS: Final = 540.0
#: Edges of clouds pass within about a minute.
_EDGE_SECONDS: Final = 40.0


def clear_sky(latitude: float, day_of_year: float, solar_hour: float) -> float:
    """W/m2 on a level panel under a clear sky."""
    tilt = radians(-23.44) * cos(2.0 * pi / 365.0 * (day_of_year + 10.0))
    angle = radians(15.0 * (solar_hour - 12.0))
    flat = radians(latitude)
    height = sin(flat) * sin(tilt) + cos(flat) * cos(tilt) * cos(angle)
    if height <= 0.01:
        return 0.0
    return 1098.0 * height * exp(-0.059 / height)


class Sky:
    """Asked in order of time; each answer depends on the seed and the moments before."""

    def __init__(
        self, weather: Weather, latitude: float, longitude: float, start_unix: float, seed: str
    ) -> None:
        self.weather = weather
        self.latitude = latitude
        self._start = start_unix + longitude / 15.0 * 3600.0
        self._random = Random(seed)
        self._day = -1
        self._cover = weather.cloud
        self._drift = 0.0
        self._covered = False
        self._turn_at = 0.0
        self._clearness = 1.0
        self.air_celsius = weather.mean_celsius
        self.irradiance = 0.0
        self.indoor_celsius = weather.mean_celsius
        self.dimmed = 1.0
        self.warmer = 0.0
        self.at(0.0, 0.0)

    def solar_hour(self, seconds: float) -> float:
        """Hour of the day by the sun, 0 to 24."""
        return (self._start + seconds) % _DAY / 3600.0

    def at(self, seconds: float, step_seconds: float) -> None:
        """Move on to this moment."""
        now = self._start + seconds
        day = int(now // _DAY)
        if day != self._day:
            self._new_day(day)
        hour = now % _DAY / 3600.0
        if seconds >= self._turn_at:
            self._turn(seconds)
        aim = _THROUGH_CLOUD if self._covered else 1.0
        self._clearness += (aim - self._clearness) * min(step_seconds / _EDGE_SECONDS, 1.0)
        clear = clear_sky(self.latitude, day % 365.25, hour)
        self.irradiance = clear * self._clearness * self.dimmed
        weather = self.weather
        swing = weather.swing_celsius * cos(2.0 * pi * (hour - 15.0) / 24.0)
        self.air_celsius = weather.mean_celsius + self._drift + swing + self.warmer
        inside = weather.swing_celsius * weather.indoor_share
        lagging = inside * cos(2.0 * pi * (hour - 17.0) / 24.0)
        self.indoor_celsius = weather.mean_celsius + self._drift + lagging + self.warmer

    def _new_day(self, day: int) -> None:
        self._day = day
        gauss = self._random.gauss
        self._cover = min(max(self.weather.cloud + gauss(0.0, 0.2), 0.02), 0.97)
        # Yesterday's weather lasts a little: no step in the air at midnight beyond a degree.
        self._drift = 0.8 * self._drift + gauss(0.0, 0.5)

    def _turn(self, seconds: float) -> None:
        self._covered = not self._covered
        share = self._cover if self._covered else 1.0 - self._cover
        mean = 2.0 * _CLOUD_SECONDS * share
        self._turn_at = seconds + self._random.expovariate(1.0 / mean) + 20.0
