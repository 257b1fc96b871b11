"""What was learned of a bank, each figure with its doubt and date; its halves or cells."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final

from adapters.reading import Quantity
from monitor.engine.said import Said
from monitor.engine.snapshot import BankView, Estimate, Learned
from monitor.with_doubt import with_doubt
from monitor.words.explained import number
from monitor.words.figures import (
    MISSING,
    Clock,
    ago,
    give_or_take,
    span,
    temperature,
    written,
)
from monitor.words.sentences import how_full, past, past_words, unheard
from monitor.words.texts import Section

HEADING: Final = "Bank"
CHARGE: Final = "Charge"
LEARNED: Final = "Learned of it"
NOTHING_LEARNED: Final = "nothing yet; it takes a charge and a discharge"
SET_POINTS: Final = "Set-points now"
PARTS: Final = "Halves and cells"
NO_PARTS: Final = "no device shows them"
ASSUMED: Final = "assumed, not yet seen"
NOT_KNOWN: Final = "not known"

#: What the ledger's figures are called here; a name that is not listed keeps the ledger's words.
LABELS: Final = {
    "usable-capacity": "usable capacity",
    "resistance": "resistance at 25 °C",
    "sensor-offset": "offset of the current sensor",
    "charge-efficiency": "share of the current that is stored",
    "absorption-set-point": "absorption at 25 °C",
    "float-set-point": "float at 25 °C",
    "low-hold-set-point": "low hold at 25 °C",
    "fixed-set-point": "fixed voltage",
    "taper-time": "time constant of the taper",
    "taper-floor": "current the taper heads for",
}
#: Learned for the plans of the evening, hour by hour: shown by the evidence, not here.
_BY_HOUR: Final = ("load-by-hour/", "sun-by-hour/")
#: Lines in this order, then everything else.
_FIRST: Final = ("usable-capacity", "resistance", "sensor-offset", "charge-efficiency")


def bank_sections(
    bank: BankView, said: Sequence[Said], now: float, clock: Clock, *, fahrenheit: bool
) -> list[Section]:
    parts = part_lines(said, bank.id, fahrenheit)
    return [
        Section(CHARGE, tuple(_charge(bank, now, clock))),
        Section(LEARNED, tuple(_learned(bank, now, clock) or [NOTHING_LEARNED])),
        Section(SET_POINTS, tuple(_set_points(bank, fahrenheit))),
        Section(PARTS, tuple(parts or [NO_PARTS])),
    ]


def _charge(bank: BankView, now: float, clock: Clock) -> list[str]:
    charge = bank.charge
    lines = [how_full(bank)]
    if past(bank):
        lines.append(past_words(bank))
    if charge.stored_amp_hours.figure is not None and not unheard(bank):
        held = in_it(charge.stored_amp_hours)
        lines.append(f"was {held}" if past(bank) else held)
    full = charge.last_full_seconds
    if full is None:
        lines.append("last full: not seen yet")
    else:
        moment = clock.at(full, now)
        gone = ago(now - full)
        lines.append(f"last full {moment}, {gone}" if moment else f"last full {gone}")
    return lines


def in_it(amp_hours: Estimate) -> str:
    """`about 220 Ah in it, give or take 40`."""
    held = amp_hours.figure or 0.0
    if not amp_hours.sd:
        return f"about {number(held)} Ah in it"
    # Said to be about so much: the doubt in one digit, rounded up, and the figure no finer.
    step = 10.0 ** math.floor(math.log10(2.0 * amp_hours.sd))
    places = max(0, -round(math.log10(step)))
    figure, doubt = step * round(held / step), step * math.ceil(2.0 * amp_hours.sd / step)
    return f"about {figure:.{places}f} Ah in it, give or take {doubt:.{places}f}"


def _learned(bank: BankView, now: float, clock: Clock) -> list[str]:
    kept = [each for each in bank.learned if not each.name.startswith(_BY_HOUR)]
    order = {name: place for place, name in enumerate(_FIRST)}
    kept.sort(key=lambda each: order.get(each.name, len(order)))
    lines = []
    for each in kept:
        lines.append(f"{LABELS.get(each.name, each.words)}: {_figure(each, bank)}")
        lines.append(f"  {_dated(each, now, clock)}")
    return lines


def _figure(each: Learned, bank: BankView) -> str:
    if each.unit == "s":
        return f"{span(each.figure)}, give or take {span(2.0 * each.sd)}"
    if not each.unit:
        taken = give_or_take(Estimate(each.figure, each.sd))
        return f"{taken.figure}, {taken.doubt}" if taken else MISSING
    text = _doubted(Estimate(each.figure, each.sd), written(each.unit))
    if each.name == "usable-capacity" and bank.amp_hours:
        share = give_or_take(Estimate(each.figure / bank.amp_hours, each.sd / bank.amp_hours))
        told = share.figure if share is not None else MISSING
        text += f"; {told} of the {bank.amp_hours:.0f} Ah rated"
    return text


#: Decimals of volts as they are read, to 10 mV: a set-point is known no finer, however long it was
#: watched; and of everything else.
_READ_VOLTS, _READ_ELSE = 2, 5


def _doubted(estimate: Estimate, unit: str) -> str:
    """A figure no finer than its doubt, and the doubt."""
    if estimate.figure is None:
        return estimate.reason or NOT_KNOWN
    if not estimate.sd:
        return f"{number(estimate.figure)} {unit}"
    finest = _READ_VOLTS if unit == "V" else _READ_ELSE
    figure, doubt = with_doubt(estimate.figure, 2.0 * estimate.sd, finest)
    return f"{figure} {unit}, give or take {doubt}"


def _dated(each: Learned, now: float, clock: Clock) -> str:
    if each.seconds is None:
        return ASSUMED
    moment = clock.at(each.seconds, now)
    return f"learned {moment or ago(now - each.seconds)}"


def _set_points(bank: BankView, fahrenheit: bool) -> list[str]:
    points = bank.set_points
    names = (
        ("absorption", points.absorption),
        ("float", points.float_),
        ("equalize", points.equalize),
    )
    lines = [f"{name}: {_doubted(estimate, 'V')}" for name, estimate in names]
    if points.celsius is None:
        lines.append("not compensated: no temperature is measured")
    else:
        lines.append(f"compensated for {temperature(points.celsius, fahrenheit)}")
    return lines


# Halves and cells.


def part_lines(said: Iterable[Said], bank: str, fahrenheit: bool) -> list[str]:
    """What devices show of the halves or cells: figures, and how far they lie apart."""
    own = [each for each in said if each.owner == bank]
    whole = {each.quantity: each for each in own if each.cell is None}
    lines = _halves(whole)
    volts = [each for each in own if each.cell is not None and each.quantity is _CELL_VOLTS]
    warm = {each.cell: each for each in own if each.quantity is Quantity.CELL_CELSIUS}
    known = [float(each.figure) for each in volts if each.figure is not None]
    for each in sorted(volts, key=lambda one: one.cell or 0):
        line = f"cell {each.cell}: {_told(each, 'V', 3)}"
        heat = warm.get(each.cell)
        if heat is not None and heat.figure is not None:
            line += f", {temperature(float(heat.figure), fahrenheit)}"
        lines.append(line)
    if len(known) > 1:
        lines.append(f"cells lie {1000.0 * (max(known) - min(known)):.0f} mV apart")
    alike = _alike(whole)
    if alike:
        lines.append(alike)
    for quantity, name in _EXTREMES:
        if quantity in whole and not (alike and quantity in _EXTREME_VOLTS):
            lines.append(f"{name}: {_extreme(whole[quantity], fahrenheit)}")
    return lines


_CELL_VOLTS: Final = Quantity.CELL_VOLTS
_EXTREMES: Final = (
    (Quantity.HIGHEST_CELL_VOLTS, "highest cell"),
    (Quantity.LOWEST_CELL_VOLTS, "lowest cell"),
    (Quantity.HIGHEST_CELL_CELSIUS, "warmest cell"),
    (Quantity.LOWEST_CELL_CELSIUS, "coldest cell"),
)


_EXTREME_VOLTS: Final = (Quantity.HIGHEST_CELL_VOLTS, Quantity.LOWEST_CELL_VOLTS)


def _alike(whole: dict[Quantity, Said]) -> str:
    """Where the highest is told below the lowest: they were read at different moments, or lie no
    further apart than they are read. Nothing where that is not so."""
    figures = [whole[q].figure for q in _EXTREME_VOLTS if q in whole]
    known = [float(figure) for figure in figures if figure is not None]
    if len(known) < len(_EXTREME_VOLTS) or known[0] >= known[1]:
        return ""
    return f"highest and lowest cell: alike, {known[0]:.3f} to {known[1]:.3f} V"


def _halves(whole: dict[Quantity, Said]) -> list[str]:
    halves = [
        (name, whole[quantity])
        for quantity, name in (
            (Quantity.UPPER_HALF_VOLTS, "upper half"),
            (Quantity.LOWER_HALF_VOLTS, "lower half"),
        )
        if quantity in whole
    ]
    lines = [f"{name}: {_told(said, 'V', 2)}" for name, said in halves]
    figures = [float(said.figure) for _, said in halves if said.figure is not None]
    if len(figures) > 1:
        lines.append(f"halves lie {1000.0 * (max(figures) - min(figures)):.0f} mV apart")
    return lines


def _told(said: Said, unit: str, digits: int) -> str:
    if said.figure is None:
        return f"{MISSING}, {said.reason}"
    return f"{float(said.figure):.{digits}f} {unit}"


def _extreme(said: Said, fahrenheit: bool) -> str:
    if said.figure is None or "celsius" not in said.quantity.value:
        return _told(said, "V", 3)
    return temperature(float(said.figure), fahrenheit)
