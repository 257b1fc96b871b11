"""The ways in which a figure may lie in registers, and what each would mean.

A `View` is a number in the registers: where, of which type, in which order of words. A `Formula`
makes a figure of it. Which formulas are tried is a table, by what the meter measures.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

from adapters.reading import Quantity
from adapters.registers import TYPES, Image, Register
from adapters.units import UNITS


class View(NamedTuple):
    """One number in an image. `kind` is a name of `adapters.registers.TYPES`."""

    table: str
    address: int
    kind: str
    words_little: bool = False

    def raw(self, image: Image) -> float | None:
        """The number, or None where a register is missing or it is no number."""
        first = image.get((self.table, self.address))
        if first is None:
            return None
        if self.kind == "uint16":
            return float(first)
        if self.kind == "int16":
            return float(first - 0x10000 if first & 0x8000 else first)
        second = image.get((self.table, self.address + 1))
        if second is None:
            return None
        return _wide(self.kind, (second, first) if self.words_little else (first, second))

    def significant(self, image: Image) -> int:
        """The address of the register that holds what counts: see `search.merged`."""
        if TYPES[self.kind].registers == 1:
            return self.address
        high, low = self.address, self.address + 1
        if self.words_little:
            high, low = low, high
        if self.kind == "float32":
            return high
        return low if image.get((self.table, high)) in (0, 0xFFFF) else high


def _wide(kind: str, words: tuple[int, int]) -> float | None:
    number = _REGISTERS[kind].number(words)
    if not math.isfinite(number):
        return None
    # A float of 1e-30 is no measurement: it is two counters read as one float.
    if kind == "float32" and number and not _LEAST_FLOAT <= abs(number) <= _MOST_FLOAT:
        return None
    return float(number)


_LEAST_FLOAT: Final = 1e-4
_MOST_FLOAT: Final = 1e6

#: Every type in a register of its own, as `adapters.registers` decodes it.
_REGISTERS: Final = {
    name: Register("holding", 0, TYPES[name], conversion=None)  # type: ignore[arg-type]
    for name in ("int32", "uint32", "float32")
}


def views(image: Image) -> Iterator[View]:
    """Every view of what was read: 16 bits signed and not, 32 bits and floats in both orders."""
    for table, address in sorted(image):
        yield View(table, address, "int16")
        yield View(table, address, "uint16")
        if (table, address + 1) in image:
            for kind in ("int32", "uint32", "float32"):
                yield View(table, address, kind)
                yield View(table, address, kind, words_little=True)


class Formula(NamedTuple):
    """figure = unit(raw * scale + offset). `oddness` 0 for what devices usually do, up to 1."""

    scale: float
    offset: float
    unit: str
    oddness: float

    def figure(self, raw: float, kept: str) -> float:
        unit = UNITS[kept][self.unit]
        return (raw * self.scale + self.offset) * unit.factor + unit.offset

    def step(self, kept: str) -> float:
        """What one raw unit changes."""
        return abs(self.scale * UNITS[kept][self.unit].factor)


class Kind(NamedTuple):
    """What a meter measures. `unit` is that of the figures.

    A candidate must stand within `relative` of the meter, and move as the meter moves within
    `relative` of the move, each with the meter's last digit and the raw step; `fixed` is what may
    lie between the two places measured. A step coarser than `coarsest` says nothing.
    `change` is a difference that tells candidates apart, `most` what the figure may become.
    """

    name: str
    unit: str
    bank: Quantity
    source: Quantity
    relative: float
    fixed: float
    coarsest: float
    change: float
    most: float
    formulas: tuple[Formula, ...]
    signs: tuple[int, ...]
    float_formulas: tuple[Formula, ...]


#: Scales that devices use: powers of ten first; the others have been seen in published maps of
#: meters, inverters and vehicle buses (halves and fifths of a decade, binary fractions).
_COMMON: Final = (1.0, 0.1, 0.01, 0.001)
_RARER: Final = (0.5, 0.2, 0.05, 0.02, 0.025, 0.005, 0.002)
_BINARY: Final = (1 / 16, 1 / 32, 1 / 128, 1 / 256, 1 / 1024)


def _scaled(unit: str, milli: str) -> tuple[Formula, ...]:
    """Formulas of a plain scale. Thousandths are told in the smaller unit, as maps do."""
    common = [Formula(scale, 0.0, unit, 0.0) for scale in _COMMON[:3]]
    common.append(Formula(1.0, 0.0, milli, 0.0))
    rarer = [Formula(scale, 0.0, unit, 0.5) for scale in _RARER]
    return (*common, *rarer, *(Formula(scale, 0.0, unit, 1.0) for scale in _BINARY))


_CELSIUS: Final = (
    *(Formula(scale, 0.0, "°C", 0.0) for scale in (1.0, 0.1, 0.01)),
    *(Formula(scale, 0.0, "K", 0.3) for scale in (1.0, 0.1, 0.01)),
    *(Formula(scale, 0.0, "°F", 0.5) for scale in (1.0, 0.1)),
    # Bus standards shift by 40 or 273 (SAE J1939: 8 bits from -40 °C, 16 bits of 1/32 from -273).
    *(Formula(1.0, offset, "°C", 0.5) for offset in (-40.0, -50.0)),
    Formula(1 / 32, -273.0, "°C", 0.5),
    *(Formula(scale, 0.0, "°C", 1.0) for scale in (0.5, 0.25, 1 / 16, 1 / 256)),
)

KINDS: Final[dict[str, Kind]] = {
    # 1 % and 2 %: a shunt's own error and a hand-held meter's together stay well inside (0.3 and
    # 1 % of the device, 0.5 % of the meter, and a little for the place of the probes).
    "V": Kind(
        "voltage", "V", Quantity.BANK_VOLTS, Quantity.SOURCE_VOLTS, 0.01, 0.0, 0.1, 0.3, 60.0,
        _scaled("V", "mV"), (1,),
        (Formula(1.0, 0.0, "V", 0.0), Formula(1.0, 0.0, "mV", 0.3)),
    ),
    "A": Kind(
        "current", "A", Quantity.BANK_AMPS, Quantity.SOURCE_AMPS, 0.02, 0.0, 0.5, 3.0, 300.0,
        _scaled("A", "mA"), (1, -1),
        (Formula(1.0, 0.0, "A", 0.0), Formula(1.0, 0.0, "mA", 0.3)),
    ),
    # A probe beside a sensor is seldom within less than 2 °C of it (common practice).
    "C": Kind(
        "temperature", "°C", Quantity.BANK_CELSIUS, Quantity.SOURCE_CELSIUS,
        0.02, 2.0, 1.0, 5.0, 80.0,
        _CELSIUS, (1,),
        (Formula(1.0, 0.0, "°C", 0.0), Formula(1.0, 0.0, "K", 0.3), Formula(1.0, 0.0, "°F", 0.3)),
    ),
}  # fmt: skip
