"""What people do and measure between visits, as inputs like any other.

An entry becomes one or more `Command`s: the journal shows them, a capture holds them, and a
replacement tells the engine that it is another bank. Figures are read strictly, with their units.

| entry | what it becomes |
|---|---|
| gravity | one meter reading a cell, target `house#3:specific_gravity`, as read and at 25 °C |
| meter | one meter reading, target `house:bank_volts`, `house:bank_amps` or `house:bank_celsius` |
| water, cleaned, text | a note about the bank |
| replaced | replace-bank |
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final, NamedTuple

from adapters.reading import Action, Command, Quantity

#: A hydrometer floats higher in cold acid: 0.0007 for each °C from 25 (a battery handbook, common
#: practice: 1.255 at 35 °C is 1.262; an equipment manual has 0.004 for 10 °F).
GRAVITY_PER_CELSIUS: Final = 0.0007
REFERENCE_CELSIUS: Final = 25.0
#: Between water and the strongest acid of a battery (BCI table: 1.12 empty to 1.265; hot climates
#: to tropical fill less, traction cells up to 1.3).
GRAVITY_RANGE: Final = (1.0, 1.4)
#: Cells further apart than this: equalize (common practice); TM 9-6140-200-14 calls 0.025
#: unserviceable after a full charge.
GRAVITY_SPREAD: Final = 0.025
CELSIUS_RANGE: Final = (-40.0, 80.0)
#: A litre is what a thirsty 6-cell bank takes in months; more in one entry is a slip (our choice).
MOST_LITRES: Final = 50.0
LONGEST_NOTE: Final = 300


class EntryError(Exception):
    """An entry that cannot be taken; the text is one line, with what to do."""


class Meter(NamedTuple):
    """What a hand-held meter gives, by the word a person types."""

    quantity: Quantity
    unit: str
    low: float
    high: float


METERS: Final[dict[str, Meter]] = {
    "volts": Meter(Quantity.BANK_VOLTS, "V", 2.0, 80.0),
    "amps": Meter(Quantity.BANK_AMPS, "A", -2000.0, 2000.0),
    "celsius": Meter(Quantity.BANK_CELSIUS, "°C", -39.0, 90.0),
}


def figure(text: str, what: str, unit: str, low: float, high: float) -> float:
    """A number, with or without its unit; EntryError in one line."""
    bare = text.strip().lower().removesuffix(unit.lower()).removesuffix("°").strip()
    try:
        value = float(bare)
    except ValueError:
        value = float("nan")
    if not low <= value <= high:
        raise EntryError(
            f"{what}: expected {low:g} to {high:g}{unit and ' ' + unit}, found {text!r}"
        )
    return value


def celsius_of(text: str, *, fahrenheit: bool = False) -> float:
    """A temperature as people write it: 15, 15C, 59F; a bare figure in the unit they read."""
    match = re.fullmatch(r"\s*(-?\d+(?:\.\d+)?)\s*°?\s*([CcFf]?)\s*", text)
    low, high = CELSIUS_RANGE
    if match is not None:
        value = float(match.group(1))
        if (match.group(2) or ("F" if fahrenheit else "C")) in ("F", "f"):
            value = (value - 32.0) / 1.8
        if low <= value <= high:
            return value
    raise EntryError(
        f"temperature: expected {low:g} to {high:g} °C such as 15C or 59F, found {text!r}"
    )


def gravity_at_25(gravity: float, celsius: float) -> float:
    """A reading moved to 25 °C: 1.255 at 35 °C is 1.262."""
    return gravity + GRAVITY_PER_CELSIUS * (celsius - REFERENCE_CELSIUS)


def gravity_entry(
    who: str, bank: str, cells: Sequence[str], celsius: float, note: str = ""
) -> tuple[Command, ...]:
    """Hydrometer readings of the cells in their order, at the electrolyte's temperature."""
    low, high = GRAVITY_RANGE
    commands = []
    for number, text in enumerate(cells, start=1):
        if re.fullmatch(r"1\d{3}", text):  # 1265 is how many hydrometers are marked
            text = f"{text[0]}.{text[1:]}"
        read = figure(text, f"cell {number}", "", low, high)
        words = f"{read:.3f} at {celsius:.0f} °C, {gravity_at_25(read, celsius):.3f} at 25 °C"
        target = f"{bank}#{number}:specific_gravity"
        commands.append(_command(who, Action.METER_READING, target, words, note))
    if not commands:
        raise EntryError("gravity: expected a figure for each cell, such as 1.265, found none")
    return tuple(commands)


def gravity_spread(cells: Sequence[Command]) -> float:
    """The highest less the lowest of such an entry."""
    read = [float(each.note.split(maxsplit=1)[0]) for each in cells]
    return max(read) - min(read)


def meter_entry(who: str, bank: str, kind: str, text: str, note: str = "") -> tuple[Command, ...]:
    meter = METERS.get(kind)
    if meter is None:
        raise EntryError(f"meter: expected {', '.join(METERS)}, found {kind!r}")
    if kind == "celsius":
        value = celsius_of(text)
    else:
        value = figure(text, kind, meter.unit, meter.low, meter.high)
    target = f"{bank}:{meter.quantity}"
    return (_command(who, Action.METER_READING, target, f"{value:g} {meter.unit}", note),)


def water_entry(who: str, bank: str, text: str, note: str = "") -> tuple[Command, ...]:
    litres = figure(text, "water", "L", 0.001, MOST_LITRES)
    return note_entry(who, bank, f"water added: {litres:g} L", note)


def note_entry(who: str, bank: str, words: str, note: str = "") -> tuple[Command, ...]:
    return (_command(who, Action.NOTE, bank, words, note),)


def replaced_entry(who: str, bank: str, words: str) -> tuple[Command, ...]:
    return (_command(who, Action.REPLACE_BANK, bank, words),)


def _command(who: str, action: Action, target: str, words: str, note: str = "") -> Command:
    """Stamped later, by the feed that takes it in."""
    words = " ".join(f"{words}; {note}".split() if note else words.split())
    if len(words) > LONGEST_NOTE:
        raise EntryError(f"note: expected at most {LONGEST_NOTE} letters, found {len(words)}")
    return Command(0.0, who, action, target, words)


def entry_of(line: str, who: str, bank: str, *, fahrenheit: bool = False) -> tuple[Command, ...]:
    """An entry in one line, as typed on a screen; what begins with none of the words is a note.

    "gravity 1.265 1.260 1.262 at 18C", "meter volts 12.62", "water 0.8L", "cleaned terminals",
    "replaced two new 6 V batteries".
    """
    kind, _, rest = " ".join(line.split()).partition(" ")
    match kind.lower():
        case "gravity":
            cells, at, celsius = rest.partition(" at ")
            if not at:
                raise EntryError("gravity: expected the acid's temperature at the end: at 18C")
            warm = celsius_of(celsius, fahrenheit=fahrenheit)
            return gravity_entry(who, bank, cells.split(), warm)
        case "meter":
            what, _, figure_text = rest.partition(" ")
            return meter_entry(who, bank, what, figure_text)
        case "water":
            return water_entry(who, bank, rest)
        case "replaced":
            return replaced_entry(who, bank, rest)
        case _:
            if not kind:
                raise EntryError("expected what was measured or done, such as water 0.8L")
            return note_entry(who, bank, f"{kind}: {rest}" if kind == "cleaned" else line)
