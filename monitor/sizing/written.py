"""What people write: 18ft, 5.5m, 2/0, 50mm2, 77F, 1.5%, 8kA, 1.2kWh. Parsed strictly.

Each parser takes a text and gives the figure in our units, or raises `Unreadable` with one line
that says what was expected and found. A bare number is taken only where its unit can be no other.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from monitor.sizing.ampacity import INSULATIONS
from monitor.sizing.cable import METRES_PER_FOOT
from monitor.sizing.conductors import Conductor, conductor

_NUMBER: Final = re.compile(r"([+-]?\d+(?:\.\d+)?|[+-]?\.\d+)\s*([^\d\s.+-].*)?", re.ASCII)


class Unreadable(ValueError):
    """One line: what was expected, what was found."""


@dataclass(frozen=True, slots=True)
class Measure:
    """A kind of figure: the factor of each unit ("" where a bare number is taken), its range."""

    what: str
    units: dict[str, float]
    least: float
    most: float
    example: str
    least_is_open: bool = True

    def __call__(self, text: str) -> float:
        found = _NUMBER.fullmatch(text.strip())
        unit = (found[2] or "").strip().lower() if found else ""
        factor = self.units.get(unit)
        if found is None or factor is None:
            raise Unreadable(self._expected(text))
        value = float(found[1]) * factor
        low = value > self.least if self.least_is_open else value >= self.least
        if not (math.isfinite(value) and low and value <= self.most):
            raise Unreadable(self._expected(text))
        return value

    def _expected(self, text: str) -> str:
        unit = next((unit for unit, factor in self.units.items() if unit and factor == 1.0), "")
        least = "above" if self.least_is_open else "from"
        return (
            f"expected {self.what} such as {self.example}, {least} {self.least:g} to "
            f"{self.most:g}{unit.upper() if unit in ('a', 'v', 'w') else unit}; found {text!r}"
        )


#: A cable one way: no coach is longer than 30 m. Feet and metres; never a bare number.
length: Final = Measure(
    "a length ONE WAY",
    {
        "m": 1.0,
        "cm": 0.01,
        "mm": 0.001,
        "ft": METRES_PER_FOOT,
        "'": METRES_PER_FOOT,
        "in": METRES_PER_FOOT / 12.0,
        '"': METRES_PER_FOOT / 12.0,
    },
    0.0,
    30.0,
    "18ft or 5.5m",
)
altitude: Final = Measure(
    "an altitude", {"m": 1.0, "ft": METRES_PER_FOOT}, 0.0, 5000.0, "1500m or 5000ft", False
)
amps: Final = Measure("amps", {"": 1.0, "a": 1.0}, 0.0, 1000.0, "60 or 60A")
amps_or_none: Final = Measure("amps", {"": 1.0, "a": 1.0}, 0.0, 1000.0, "8 or 8A", False)
fault: Final = Measure("a fault current", {"a": 1.0, "ka": 1000.0}, 0.0, 200_000.0, "6kA or 6000A")
volts: Final = Measure("volts", {"": 1.0, "v": 1.0}, 0.0, 100.0, "14.4 or 14.4V")
ac_volts: Final = Measure("AC volts", {"": 1.0, "v": 1.0}, 80.0, 280.0, "120 or 230V")
watts: Final = Measure("watts", {"": 1.0, "w": 1.0, "kw": 1000.0}, 0.0, 30_000.0, "1200 or 1.2kW")
amp_hours: Final = Measure(
    "amp-hours at the 20 h rate", {"": 1.0, "ah": 1.0}, 0.0, 10_000.0, "400 or 400Ah"
)
hours: Final = Measure("hours", {"": 1.0, "h": 1.0, "min": 1 / 60}, 0.0, 100.0, "8h or 90min")
days: Final = Measure("days", {"": 1.0, "d": 1.0, "day": 1.0, "days": 1.0}, 0.0, 60.0, "2")
milliohm: Final = Measure("milliohm", {"": 1e-3, "mohm": 1e-3}, 0.0, 1.0, "0.5", False)
fraction: Final = Measure(
    "a fraction", {"": 1.0, "%": 0.01}, 0.0, 1.0, "0.85 or 85%", least_is_open=True
)
charge: Final = Measure(
    "a share", {"": 1.0, "%": 0.01}, 0.0, 1.0, "0.5 or 50%", least_is_open=False
)
drop: Final = Measure("a drop of nominal", {"%": 0.01}, 0.0, 0.2, "1.5%")

_DEGREES: Final = re.compile(r"([+-]?\d+(?:\.\d+)?)\s*°?\s*([CFcf])", re.ASCII)
_ENERGY: Final = re.compile(r"(\d+(?:\.\d+)?)\s*(ah|wh|kwh)", re.ASCII | re.IGNORECASE)
_UNIT: Final = re.compile(r"(\d+(?:\.\d+)?)\s*v\s*[,x/]?\s*(\d+(?:\.\d+)?)\s*ah", re.IGNORECASE)
COLDEST: Final = -40.0
HOTEST: Final = 90.0


def celsius(text: str) -> float:
    """25C or 77F; never a bare number: 40 may be cold or warm."""
    found = _DEGREES.fullmatch(text.strip())
    if found is None:
        raise Unreadable(
            f"expected a temperature with its unit, such as 25C or 77F; found {text!r}"
        )
    value = float(found[1])
    if found[2] in "Ff":
        value = (value - 32.0) / 1.8
    if not COLDEST <= value <= HOTEST:
        raise Unreadable(f"expected a temperature from -40C to 90C; found {text!r}")
    return value


def insulation(text: str) -> int:
    """The temperature an insulation is made for: 105C, or 221F."""
    found = _DEGREES.fullmatch(text.strip())
    if found is not None:
        value = float(found[1])
        if found[2] in "Ff":
            value = (value - 32.0) / 1.8
        for known in INSULATIONS:
            if abs(known - value) < 0.6:
                return known
    listed = ", ".join(f"{known}C" for known in INSULATIONS)
    raise Unreadable(f"expected the insulation's rating, one of {listed}; found {text!r}")


def wire(text: str) -> Conductor:
    """2/0, AWG 4, 50mm2."""
    try:
        return conductor(text)
    except KeyError:
        raise Unreadable(
            f"expected a conductor such as 2/0, 4AWG (18 to 4/0) or 50mm2 (0.75 to 120); "
            f"found {text!r}"
        ) from None


def daily_use(text: str) -> tuple[float, str]:
    """(figure, "Ah" or "Wh") of a day's use: 120Ah, 1.5kWh."""
    found = _ENERGY.fullmatch(text.strip())
    if found is None or float(found[1]) <= 0.0:
        raise Unreadable(f"expected a day's use such as 120Ah or 1.5kWh; found {text!r}")
    unit = found[2].lower()
    figure = float(found[1]) * (1000.0 if unit == "kwh" else 1.0)
    return figure, "Ah" if unit == "ah" else "Wh"


def battery(text: str) -> tuple[float, float]:
    """(volts, amp-hours) of one battery: 6V225Ah, "12V 100Ah"."""
    found = _UNIT.fullmatch(text.strip())
    if found is None or not (0.0 < float(found[1]) <= 60.0 and 0.0 < float(found[2]) <= 5000.0):
        raise Unreadable(f"expected one battery such as 6V225Ah or 12V100Ah; found {text!r}")
    return float(found[1]), float(found[2])


def whole(what: str, least: int, most: int) -> Callable[[str], int]:
    """A whole number within a range."""

    def parse(text: str) -> int:
        if text.strip().isdecimal() and least <= int(text) <= most:
            return int(text)
        raise Unreadable(f"expected {what}, a whole number {least} to {most}; found {text!r}")

    return parse
