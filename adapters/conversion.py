"""From a device's raw figure to a fact about the bank, and back.

Every kind of device description says the same things of each figure: which quantity, which scale,
offset and unit, which way the sign runs, which words stand for which codes. This module reads
those keys once, for all kinds:

    kept = unit(raw * scale + offset), sign turned where the device counts the other way

A figure outside the plausible range of its quantity is left out with a reason, never passed on.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from adapters.checked_toml import Section, shown
from adapters.reading import QUANTITIES, REPORTABLE_STAGES, Quantity, Scope
from adapters.units import AS_IS, UNITS, Unit

#: Quantities that are yes or no: the charge or discharge side of a bank is closed (1) or open (0).
PERMITS: Final = frozenset({Quantity.CHARGE_PERMITTED, Quantity.DISCHARGE_PERMITTED})

#: Currents whose sign a device may count either way. For the bank it must be said: a wrong guess
#: would turn charging into discharging.
_TURNABLE: Final = frozenset({Quantity.BANK_AMPS, Quantity.SOURCE_AMPS, Quantity.LOAD_AMPS})
_MUST_SAY_SIGN: Final = frozenset({Quantity.BANK_AMPS})

#: Shortest and longest poll period in seconds: 20 Hz is more than any house bank needs, and once an
#: hour the least that still says anything (common practice).
PERIOD_BOUNDS: Final = (0.05, 3600.0)

#: The highest cell number that makes sense: 16 lithium cells make 48 V (common practice), and
#: four such banks side by side.
_MOST_CELLS: Final = 64


class Measurand(NamedTuple):
    """What a figure of a device measures: a quantity and, for cells, the cell's number."""

    quantity: Quantity
    cell: int | None = None

    def __str__(self) -> str:
        return self.quantity.value if self.cell is None else f"{self.quantity.value} {self.cell}"


Figures = Mapping[Measurand, float | str]


@dataclass(frozen=True, slots=True)
class Decoded:
    """What one set of raw data says. `left_out` tells why a figure that came was not believed;
    one that the device marks as not available is in neither."""

    figures: dict[Measurand, float | str] = field(default_factory=dict)
    left_out: dict[Measurand, str] = field(default_factory=dict)


#: Significant digits kept of a figure: far more than any sensor has (24 bits are 7), fewer than the
#: 15 to 16 of a double in which its scaling leaves noise (IEEE 754).
_DIGITS: Final = 12


class Doubt(Exception):
    """A figure that came and cannot be true; the text is a few words."""


@dataclass(frozen=True, slots=True)
class Conversion:
    """How one raw figure becomes a fact. `codes` maps a device's own codes, as text, to ours."""

    measurand: Measurand
    scale: float = 1.0
    offset: float = 0.0
    unit: Unit = AS_IS
    turned: bool = False
    codes: dict[str, str] = field(default_factory=dict)

    @property
    def is_text(self) -> bool:
        return self.measurand.quantity is Quantity.REPORTED_STAGE

    def fact_of_number(self, raw: float) -> float:
        """The kept figure, or `Doubt` when it is outside what the quantity can be."""
        given = raw * self.scale + self.offset
        kept = given * self.unit.factor + self.unit.offset
        kept = -kept if self.turned else kept
        # 1362 hundredths are 13.62 and not 13.620000000000001: no device resolves what is cut off.
        kept = float(f"{kept:.{_DIGITS}g}")
        bounds = QUANTITIES[self.measurand.quantity]
        # Room for rounding only: 100 % told as 1.0000000000000002 is still 100 %.
        slack = 1e-9 * max(abs(bounds.low), abs(bounds.high), 1.0)
        if not math.isfinite(kept) or not bounds.low - slack <= kept <= bounds.high + slack:
            unit = f" {bounds.unit}" if bounds.unit else ""
            raise Doubt(f"{kept:.6g}{unit} is outside {bounds.low:g}..{bounds.high:g}{unit}")
        return min(max(kept, bounds.low), bounds.high)

    def fact_of_code(self, code: str) -> float | str:
        """The word for a device's code; a code without a word is unknown, or doubted."""
        word = self.codes.get(code)
        if self.is_text:
            return word or "unknown"
        if word is None:
            raise Doubt(f"code {shown(code)} has no word in the description")
        return 1.0 if word == "yes" else 0.0

    def raw_of_number(self, kept: float) -> float:
        """The device's raw figure for a kept one, not yet rounded to what the device can hold."""
        given = ((-kept if self.turned else kept) - self.unit.offset) / self.unit.factor
        return (given - self.offset) / self.scale

    def code_of_fact(self, fact: float | str) -> str | None:
        """The first code that stands for a word, or None when the device has no code for it."""
        word = fact if isinstance(fact, str) else ("yes" if fact >= 0.5 else "no")
        return next((code for code, known in self.codes.items() if known == word), None)


def read_conversion(section: Section) -> Conversion:
    """Take the keys that every kind of description shares."""
    quantity = Quantity(section.choice("quantity", [q.value for q in Quantity]))
    cell = None
    if QUANTITIES[quantity].scope is Scope.CELL:
        cell = section.whole("cell", low=1, high=_MOST_CELLS)
    elif section.has("cell"):
        raise section.error("cell", f"only the quantities of one cell have it; found {quantity}")
    codes = _read_codes(section, quantity)
    measurand = Measurand(quantity, cell)
    if codes or quantity in PERMITS:
        for key in ("scale", "offset", "unit", "positive"):
            if section.has(key):
                raise section.error(key, f"{quantity} is told in words and has no {key}; remove it")
        return Conversion(measurand, codes=codes)
    scale = section.number("scale", 1.0)
    if scale == 0.0:
        raise section.error("scale", "expected a number other than 0; found 0")
    offset = section.number("offset", 0.0)
    return Conversion(
        measurand, scale, offset, _read_unit(section, quantity), _read_turn(section, quantity)
    )


def _read_codes(section: Section, quantity: Quantity) -> dict[str, str]:
    if quantity is Quantity.REPORTED_STAGE:
        allowed, needed = sorted(REPORTABLE_STAGES), True
    elif quantity in PERMITS:
        allowed, needed = ["no", "yes"], False
    else:
        if section.has("words"):
            raise section.error("words", f"{quantity} is a number and has no words; remove it")
        return {}
    expected = f'a table of the device\'s codes, such as {{ "0" = "{allowed[-1]}" }}'
    codes = section.word_map("words", expected)
    if needed and not codes:
        raise section.error(None, f"expected a key words ({expected}); found none")
    for code, word in codes.items():
        if word not in allowed:
            raise section.error(
                "words", f"expected one of {', '.join(allowed)} for {shown(code)}; "
                f"found {shown(word)}"
            )  # fmt: skip
    return codes


def _read_unit(section: Section, quantity: Quantity) -> Unit:
    units = UNITS[QUANTITIES[quantity].unit]
    return units[section.choice("unit", units)]


def _read_turn(section: Section, quantity: Quantity) -> bool:
    """True where the device counts the other way round from us."""
    if quantity not in _TURNABLE:
        if section.has("positive"):
            raise section.error(
                "positive", f"only {', '.join(sorted(_TURNABLE))} have it; turn the sign of "
                f"{quantity} with a negative scale"
            )  # fmt: skip
        return False
    natural = "discharging" if quantity is Quantity.LOAD_AMPS else "charging"
    default = None if quantity in _MUST_SAY_SIGN else natural
    return section.choice("positive", ("charging", "discharging"), default) != natural
