"""`ampwright size bank`: amp-hours for a day's use and days alone, and batteries that make them."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from monitor.bank import Chemistry
from monitor.chemistries import CHEMISTRIES
from monitor.commands.sizes.options import add, chemistry, nominal
from monitor.mishaps import Refusal
from monitor.sizing import written
from monitor.sizing.bank_size import AGEING, MOST_STRINGS, BankSize, Layout, bank_size, layout
from monitor.sizing.inverter import EFFICIENCY
from monitor.words.measures import both_celsius, percent
from monitor.words.sheets import Sheet

CAUTIONS = (
    "Batteries of one bank: same kind, same age, same maker; never mix old and new.",
    "Strings in parallel join diagonally, with leads of one length, each string with its fuse.",
    "Check each battery's voltage before joining: equal within 0.1 V, or let them settle apart.",
)
#: Lowest planned charge where none is given (common practice).
LOWEST = {"lfp": 0.2}
LOWEST_LEAD = 0.5


def arguments(parser: argparse.ArgumentParser) -> None:
    add(
        parser,
        "--daily",
        written.daily_use,
        "a day's use: 120Ah, 1.5kWh",
        metavar="USE",
        required=True,
    )
    add(parser, "--days", written.days, "without any charging (2)", metavar="N")
    add(parser, "--chemistry", chemistry, ", ".join(CHEMISTRIES), metavar="NAME", required=True)
    add(parser, "--volts", nominal, "nominal: 12, 24 or 48", metavar="VOLTS", required=True)
    add(parser, "--lowest", written.charge, "charge not to go below", metavar="SOC")
    add(parser, "--at", written.celsius, "coldest the bank gets (25C)", metavar="TEMP")
    add(parser, "--through-inverter", written.charge, "part of it (0)", metavar="PART")
    add(parser, "--hours-of-use", written.hours, "the day's use falls into (24)", metavar="HOURS")
    add(parser, "--battery", written.battery, "one battery: 6V225Ah", metavar="UNIT")


def sheet(arguments: argparse.Namespace) -> Sheet:
    kind = CHEMISTRIES[arguments.chemistry]
    days = arguments.days or 2.0
    usual = LOWEST.get(kind.name, LOWEST_LEAD)
    lowest = usual if arguments.lowest is None else arguments.lowest
    if lowest >= 1.0:
        raise Refusal("--lowest: expected less than 100 %, found 100 %: nothing could be used")
    celsius = 25.0 if arguments.at is None else arguments.at
    figure, unit = arguments.daily
    share = arguments.through_inverter or 0.0
    wanted = figure * (1.0 - share + share / EFFICIENCY)
    volts = arguments.volts
    daily = wanted if unit == "Ah" else wanted / volts
    spread = min(24.0, arguments.hours_of_use or 24.0)
    size = bank_size(kind, daily, days, lowest, celsius, AGEING, spread)
    made = None
    if arguments.battery is not None:
        made = layout(kind, size.amp_hours, volts, *arguments.battery)
    return Sheet(
        "Bank",
        f"{size.amp_hours:.0f} Ah at the 20 h rate, {volts} V "
        f"({size.amp_hours * volts / 1000:.1f} kWh), {kind.words}.",
        _figures(size, daily, days, volts, made),
        (),
        _meaning(kind),
        _warnings(kind, made, arguments.battery, volts, celsius),
        (
            f"{days:g} days without any charging, from full down to {percent(lowest)}",
            f"coldest {both_celsius(celsius)}: "
            + ("IEEE 485 factor" if kind.lead else "usable share by a published battery model")
            + "; warmth earns no smaller bank",
            f"ageing {AGEING:g}: a battery counts as worn out at 80 % (IEEE 485)",
            f"{percent(share)} through an inverter of {percent(EFFICIENCY)}; its idle draw is part "
            "of the day's use",
            f"the use falls into {spread:g} h a day",
        ),
        CAUTIONS,
        {
            **asdict(size),
            "nominal_volts": volts,
            "layout": None if made is None else {**asdict(made), "batteries": made.batteries},
        },
        arguments.battery is None or made is not None,
    )


def _figures(
    size: BankSize, daily: float, days: float, volts: int, made: Layout | None
) -> tuple[tuple[str, str], ...]:
    figures = [
        ("a day", f"{daily:.0f} Ah at {volts} V"),
        (f"{days:g} days", f"{size.used_amp_hours:.0f} Ah"),
        ("planned to use", percent(size.usable_share)),
        ("for the cold", f"times {size.temperature_factor:.2f}"),
        ("for age", f"times {size.ageing:g}"),
    ]
    if size.rate_factor > 1.0005:
        figures.append(("for the rate", f"times {size.rate_factor:.2f} (Peukert)"))
    if made is not None:
        figures.append(
            (
                "layout",
                f"{made.batteries} batteries of {made.unit_volts:g} V {made.unit_amp_hours:g} Ah: "
                f"{made.series} in series, {made.parallel} such strings in parallel, "
                f"{made.amp_hours:g} Ah",
            )
        )
    return tuple(figures)


def _meaning(kind: Chemistry) -> tuple[str, ...]:
    if not kind.lead:
        return (
            "Lithium may stay part charged; its own protection must be able to carry the load.",
        )
    return (
        "Lead-acid that is not filled at least once a week loses capacity for good: days alone "
        "are only as good as the charge that follows.",
    )


def _warnings(
    kind: Chemistry,
    made: Layout | None,
    battery: tuple[float, float] | None,
    volts: int,
    celsius: float,
) -> tuple[str, ...]:
    lines = []
    if battery is not None and made is None:
        lines.append(f"Batteries of {battery[0]:g} V cannot make {volts} V.")
    if made is not None and made.parallel > MOST_STRINGS:
        lines.append(
            f"{made.parallel} strings in parallel share badly: {MOST_STRINGS} at most. Take "
            "larger batteries, or a higher voltage."
        )
    if not kind.lead and celsius < 0.0:
        lines.append("Below 0 °C lithium may be used but never charged: it needs heating.")
    return tuple(lines)
