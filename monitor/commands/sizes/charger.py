"""`ampwright size charger`: a charger against its bank."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from typing import Final

from monitor.bank import Bank
from monitor.commands.sizes.options import add, add_bank, held_volts, whole_bank
from monitor.mishaps import Refusal
from monitor.sizing import written
from monitor.sizing.charger import ChargeTime, charge_current, charge_time, rule_amps, two_sources
from monitor.words.measures import amps, both_celsius, full_after, hours, percent
from monitor.words.sheets import Sheet, Table

#: Sizes that chargers come in, amps, for the table (common practice).
SOLD: Final = (10, 15, 20, 30, 40, 50, 60, 80, 100, 120, 150, 200, 300, 400)
CAUTIONS: Final = (
    "Never charge lithium below 0 °C, nor frozen lead-acid; above 50 °C stop charging.",
    "Charging lead-acid makes explosive gas: ampwright size ventilation.",
)


def arguments(parser: argparse.ArgumentParser) -> None:
    add_bank(parser)
    add(parser, "--from", written.charge, "charge at the start (50%%)", metavar="SOC", dest="soc")
    add(parser, "--amps", written.amps, "a charger you have or want", metavar="AMPS")
    add(parser, "--second", written.amps, "a second one in parallel", metavar="AMPS")
    add(parser, "--set-point", written.volts, "its absorption, at 25 °C", metavar="VOLTS")
    add(parser, "--second-set-point", written.volts, "of the second", metavar="VOLTS")
    add(parser, "--loads", written.amps_or_none, "running all the while (0)", metavar="AMPS")
    add(parser, "--hours", written.hours, "how long there is to charge", metavar="HOURS")
    add(parser, "--at", written.celsius, "temperature of the bank (25C)", metavar="TEMP")


def sheet(arguments: argparse.Namespace) -> Sheet:
    bank, known = whole_bank(arguments)
    if arguments.amps is None and arguments.second is not None:
        raise Refusal("--second: expected --amps for the first charger with it, found none")
    if arguments.second is None and arguments.second_set_point is not None:
        raise Refusal("--second-set-point: expected --second, the amps of that charger; found none")
    soc = 0.5 if arguments.soc is None else arguments.soc
    celsius = 25.0 if arguments.at is None else arguments.at
    loads = arguments.loads or 0.0
    wants = charge_current(bank)
    asked = arguments.amps
    total = None if asked is None else asked + (arguments.second or 0.0)
    sizes = sorted({*_near(wants.least, wants.most, loads), *([total] if total else [])})
    volts = held_volts(bank, arguments.set_point, "--set-point")
    times = {size: charge_time(bank, size, soc, celsius, loads, volts) for size in sizes}
    pair = _pair(arguments, bank, soc, celsius, loads)
    shown = pair if pair is not None else times.get(total) if total else None
    figures = [
        (
            "the bank wants",
            f"{amps(wants.least)} to {amps(wants.most)} into it, {amps(wants.usual)} is usual",
        ),
        ("missing", f"{(1 - soc) * bank.amp_hours:.0f} Ah, from {percent(soc)}"),
        ("loads", f"{amps(loads)} on top"),
    ]
    if pair is not None:
        figures.append(("two in parallel", _course(pair)))
    elif shown is not None:
        figures.append((f"with {total:g} A", _course(shown)))
    if arguments.hours is not None:
        rule = rule_amps((1 - soc) * bank.amp_hours, arguments.hours, loads)
        enough = next((s for s in sizes if _within(times[s], arguments.hours)), None)
        figures += [
            (
                f"full in {hours(arguments.hours)}",
                f"{enough:g} A by the forecast" if enough else "no size below: the taper decides",
            ),
            ("by the usual rule", f"{rule:.0f} A (1.1 C / H + loads), blind to the taper"),
        ]
    return Sheet(
        "Charger for a bank",
        f"{amps(wants.usual + loads)} is a good size: {amps(wants.usual)} for the bank and "
        f"{amps(loads)} for what runs.",
        tuple(figures),
        (_table(times, soc),),
        _meaning(pair),
        _warnings(
            bank.chemistry.charge_celsius,
            celsius,
            total,
            loads,
            wants.most,
            None if shown is None else shown.timer_soc,
        ),
        (
            *known.words,
            *((f"absorption of {volts:g} V at 25 °C, as told",) if arguments.set_point else ()),
            f"bank at {both_celsius(celsius)}, the source compensates; loads run all the while",
            "hours to full until the end-of-charge current "
            f"({bank.end_of_charge_amps:.1f} A), by the forecast that the screen uses, from priors "
            "that four published tests fitted; a bank of its own will differ by a tenth or two",
            "largest current: a trade figure for the chemistry; the battery's sheet decides",
            "the charger gives its rating hot; many give less",
        ),
        CAUTIONS,
        {
            "wants_amps": asdict(wants),
            "from_soc": soc,
            "loads_amps": loads,
            "times": {f"{size:g}": asdict(time) for size, time in times.items()},
            "two_in_parallel": None if pair is None else asdict(pair),
        },
    )


def _near(least: float, most: float, loads: float) -> list[float]:
    sizes = [float(size) for size in SOLD if 0.7 * least <= size - loads <= 1.05 * most]
    return sizes[:: max(1, len(sizes) // 7 + 1)] if len(sizes) > 7 else sizes


def _within(time: ChargeTime, most: float) -> bool:
    return time.hours_to_full is not None and time.hours_to_full <= most


def _course(time: ChargeTime) -> str:
    if time.amps <= 0.0:
        return "the loads take all of it"
    held = "voltage not reached within 48 h"
    if time.hours_to_held is not None:
        held = f"held voltage after {hours(time.hours_to_held)} at {percent(time.soc_at_held)}"
    return f"{held}, {full_after(time.hours_to_full)}, {time.amp_hours:.0f} Ah drawn"


def _pair(
    arguments: argparse.Namespace, bank: Bank, soc: float, celsius: float, loads: float
) -> ChargeTime | None:
    if arguments.amps is None or arguments.second is None:
        return None
    one = (arguments.amps, held_volts(bank, arguments.set_point, "--set-point"))
    two = (arguments.second, held_volts(bank, arguments.second_set_point, "--second-set-point"))
    higher, lower = (one, two) if one[1] >= two[1] else (two, one)
    if higher[1] == lower[1]:
        return charge_time(bank, one[0] + two[0], soc, celsius, loads, one[1])
    return two_sources(bank, higher, lower, soc, celsius, loads)


def _table(times: dict[float, ChargeTime], soc: float) -> Table:
    rows = tuple(
        (
            f"{size:g} A",
            amps(time.amps),
            hours(time.hours_to_held) if time.hours_to_held is not None else "never",
            percent(time.soc_at_held),
            hours(time.hours_to_full) if time.amps > 0 else "never",
            "--" if time.rule_hours is None else hours(time.rule_hours),
        )
        for size, time in times.items()
    )
    heads = ("charger", "into bank", "voltage held", "at", "full after", "usual rule")
    return Table(heads, rows, f"From {percent(soc)}:")


def _meaning(pair: ChargeTime | None) -> tuple[str, ...]:
    lines = [
        "Past the held voltage the bank decides how much flows: a bigger charger shortens bulk and "
        "hardly the rest."
    ]
    if pair is not None:
        lines.append(
            "In parallel the one with the lower set-point, or the longer cable, falls silent "
            "first: set both alike, both compensated by a probe on the same bank, each with its "
            "own cable and fuse."
        )
    return tuple(lines)


def _warnings(
    may: tuple[float, float],
    celsius: float,
    total: float | None,
    loads: float,
    most: float,
    early: float | None,
) -> tuple[str, ...]:
    lines = []
    if not may[0] <= celsius <= may[1]:
        lines.append(
            f"Do not charge this chemistry at {both_celsius(celsius)}: "
            f"{may[0]:.0f} to {may[1]:.0f} °C only."
        )
    if early is not None:
        lines.append(
            f"The absorption timer of the set-points ends this charge at {percent(early)}, before "
            "it is full."
        )
    if total is not None and total > most + 1e-9:
        lines.append(
            f"{amps(total)} is more than the {amps(most)} that this bank should take: with the "
            "loads off all of it goes in."
        )
    if total is not None and total <= loads:
        lines.append("The loads take all that the charger gives: the bank is not charged.")
    return tuple(lines)
