"""The whole chain for one moment as text: what is shown, then how it was worked out."""

from __future__ import annotations

from typing import Final

from monitor.engine.by_hour import HOURS, Hourly
from monitor.engine.parts import CHANCE, Item, Part
from monitor.engine.snapshot import BankView, Snapshot
from monitor.with_doubt import with_doubt
from monitor.words.evidence import evidence
from monitor.words.figures import (
    MISSING,
    Clock,
    ago,
    degree_unit,
    degrees,
    probability,
    span,
    written,
)
from monitor.words.texts import Section

HEADING: Final = "Why each figure is as it is"

#: Hours of the day in one line.
_A_LINE: Final = 12

_HEADINGS: Final = {
    "said": "How it was worked out: what the devices said",
    "signal": "The cleaned signal",
    "stage": "The stage filter",
    "set-points": "Set-points",
    "charge": "The charge filter",
    "forecast": "The forecast",
    "by hour": "The usual day",
    "conditions": "Conditions",
}


def explained(
    snapshot: Snapshot,
    bank: BankView,
    parts: tuple[Part, ...],
    clock: Clock,
    *,
    fahrenheit: bool = False,
) -> list[Section]:
    """One bank at one moment, for a person: the evidence first, then the chain behind it."""
    sections = evidence(snapshot, bank, clock, fahrenheit=fahrenheit)
    now = snapshot.seconds
    return [*sections, *(_section(part, now, clock, fahrenheit) for part in parts)]


def _section(part: Part, now: float, clock: Clock, fahrenheit: bool) -> Section:
    lines = [f"({part.words})", *(item_words(_in_degrees(item, fahrenheit)) for item in part.items)]
    for name, hourly in part.hours:
        lines += _hours(name, hourly, now, clock)
    return Section(_HEADINGS.get(part.name, part.name), tuple(lines))


def _in_degrees(item: Item, fahrenheit: bool) -> Item:
    """A temperature in the unit of the person."""
    if not fahrenheit or item.unit != degree_unit(False) or not isinstance(item.figure, float):
        return item
    sd = None if item.sd is None else 1.8 * item.sd
    return item._replace(figure=degrees(item.figure, True), unit=degree_unit(True), sd=sd)


def item_words(item: Item) -> str:
    """`usable capacity: 231 Ah, give or take 12`, or why there is no figure."""
    figure, unit = item.figure, written(item.unit)
    if figure is None:
        return f"{item.name}: {MISSING}, {item.words}" if item.words else f"{item.name}: {MISSING}"
    if isinstance(figure, str):
        text = figure
    elif item.unit == CHANCE:
        text = probability(figure)
    elif item.unit == "s":
        text = span(figure)
    else:
        if item.sd:
            told, doubt = with_doubt(figure, 2.0 * item.sd)
            text = f"{told} {unit}".rstrip() + f", give or take {doubt}"
        else:
            text = f"{number(figure, unit)} {unit}".rstrip()
    if item.age_seconds is not None:
        text += f", read {ago(item.age_seconds)}"
    return f"{item.name}: {text}" + (f", {item.words}" if item.words else "")


def number(figure: float, unit: str = "") -> str:
    """A figure of which no deviation is known, to three digits: amps and the like are good to 1 %
    at best. Volts from ten on to four, as they are read, to 10 mV; whole from a thousand on."""
    if abs(figure) >= 1000.0:
        return f"{figure:.0f}"
    text = f"{figure:.{4 if unit == 'V' and abs(figure) >= 10.0 else 3}g}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def _hours(name: str, hourly: Hourly, now: float, clock: Clock) -> list[str]:
    """Watts in lines of twelve hours of the day, by the clock on the wall where it is known."""
    moment = clock.time(now)
    zone = 0
    if moment is not None:
        offset = moment.astimezone().utcoffset() if moment.tzinfo is None else moment.utcoffset()
        zone = round(offset.total_seconds() / 3600.0) if offset is not None else 0
    watts = [hourly.watts[(hour - zone) % HOURS] for hour in range(HOURS)]
    days = "1 day" if hourly.days < 1.5 else f"{hourly.days:.0f} days"
    lines = [f"{name}, mean watts of {days} by hour:"]
    for first in range(0, HOURS, _A_LINE):
        figures = " ".join(
            f"{MISSING if each is None else format(each, '.0f'):>4}"
            for each in watts[first : first + _A_LINE]
        )
        lines.append(f"  {first:02d} h to {first + _A_LINE:02d} h {figures}")
    return lines
