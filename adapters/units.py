"""Units a device may count in, and the way from each to the one unit we keep.

    kept = figure * factor + offset

SI prefixes and the definitions of degree Celsius and Fahrenheit (SI brochure, 9th edition,
2.3.1 and NIST SP 811 B.8) are all that is needed.
"""

from __future__ import annotations

from typing import Final, NamedTuple


class Unit(NamedTuple):
    """How a figure in this unit becomes one in the kept unit."""

    factor: float
    offset: float = 0.0


#: A figure that is already in the kept unit.
AS_IS: Final = Unit(1.0)

_CELSIUS: Final = {
    "°C": AS_IS,
    "C": AS_IS,
    "celsius": AS_IS,
    "°F": Unit(5.0 / 9.0, -160.0 / 9.0),
    "F": Unit(5.0 / 9.0, -160.0 / 9.0),
    "fahrenheit": Unit(5.0 / 9.0, -160.0 / 9.0),
    "K": Unit(1.0, -273.15),
    "kelvin": Unit(1.0, -273.15),
}

#: By the unit a quantity is kept in (`adapters.reading.QUANTITIES`), every unit that can be given.
UNITS: Final[dict[str, dict[str, Unit]]] = {
    "V": {"V": AS_IS, "mV": Unit(1e-3), "kV": Unit(1e3)},
    "A": {"A": AS_IS, "mA": Unit(1e-3)},
    "W": {"W": AS_IS, "mW": Unit(1e-3), "kW": Unit(1e3)},
    "Hz": {"Hz": AS_IS, "mHz": Unit(1e-3)},
    "°C": _CELSIUS,
    "": {"fraction": AS_IS, "%": Unit(0.01)},
}
