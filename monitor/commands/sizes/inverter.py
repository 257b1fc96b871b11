"""`ampwright size inverter`: the biggest cable aboard."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from monitor.commands.sizes.fuse_words import FUSE_CAUTIONS, fuse_part
from monitor.commands.sizes.options import add, add_bank, whole_bank
from monitor.commands.sizes.wire_options import add_wire, cable_run, rows_of, wire_assumptions
from monitor.commands.sizes.wire_words import option_table, options_answer, parallel_words
from monitor.mishaps import Refusal
from monitor.sizing import written
from monitor.sizing.inverter import (
    EFFICIENCY,
    SURGE_OF_FUSE,
    SURGE_SOC,
    InverterDraw,
    Surge,
    cut_off_volts,
    inverter_draw,
    surge,
)
from monitor.sizing.wire_choice import FEEDER_DROP, CableRun, Option, side_by_side
from monitor.words.measures import amps, metres, percent
from monitor.words.sheets import Sheet

#: Motors start at two to three times their watts; inverters give twice theirs for seconds (common
#: practice).
SURGE_TIMES = 2.0


def arguments(parser: argparse.ArgumentParser) -> None:
    add(parser, "--watts", written.watts, "for hours: 2000, 2kW", metavar="WATTS", required=True)
    add(parser, "--surge", written.watts, "for seconds (twice --watts)", metavar="WATTS")
    add(parser, "--efficiency", written.fraction, "of the inverter (88%%)", metavar="PART")
    add(parser, "--lowest", written.volts, "where it gives up: 10.5V of 12", metavar="VOLTS")
    add_wire(parser)
    add(parser, "--drop", written.drop, "of nominal, there and back (3%%)", metavar="PERCENT")
    add_bank(parser)
    add(parser, "--fault", written.fault, "short-circuit current of the bank", metavar="AMPS")


def sheet(arguments: argparse.Namespace) -> Sheet:
    bank, known = whole_bank(arguments)
    lowest = arguments.lowest or cut_off_volts(bank)
    if not 0.7 * bank.nominal_volts <= lowest <= 1.1 * bank.nominal_volts:
        raise Refusal(
            f"--lowest: expected volts near {cut_off_volts(bank):.1f} for a bank of "
            f"{bank.nominal_volts} V; found {lowest:g}"
        )
    draw = inverter_draw(
        arguments.watts,
        arguments.surge or SURGE_TIMES * arguments.watts,
        lowest,
        arguments.efficiency or EFFICIENCY,
    )
    run = cable_run(arguments, draw.amps, bank.nominal_volts, FEEDER_DROP)
    groups = [side_by_side(run, rows) for rows in rows_of(arguments)]
    options = [option for group in groups for option in group]
    choices = [
        choice
        for group in groups
        if (choice := next((option for option in group if option.suits), None)) is not None
    ]
    tried = (choices or options[-1:])[0]
    held = surge(bank, draw.surge_amps, tried.drop.ohms)
    fuse = fuse_part(tried.fuse if choices else None, known, arguments.fault)
    return Sheet(
        "Inverter's cable",
        _headline(run, choices),
        _figures(run, draw, held, tried),
        (option_table(options), *fuse.tables),
        _meaning(draw, tried),
        (*_warnings(draw, held, lowest, tried), *fuse.warnings),
        (
            f"efficiency {percent(draw.efficiency)}; constant power, so most amps at {lowest:g} V",
            f"surge tried at {percent(SURGE_SOC)} charge and 25 °C, the cells' resistance typical",
            *wire_assumptions(run, arguments),
            *known.words,
            *fuse.assumptions,
        ),
        FUSE_CAUTIONS,
        {
            "draw": asdict(draw),
            "surge": {**asdict(held), "holds": held.holds},
            "run": asdict(run),
            "options": options_answer(options),
            "chosen": [choice.name for choice in choices],
            **fuse.answer,
        },
        bool(choices),
    )


def _headline(run: CableRun, choices: list[Option]) -> str:
    if not choices:
        return (
            f"Nothing in the tables carries {amps(run.amps)} over {metres(run.one_way_metres)} one "
            "way, up to three side by side: move the inverter to the bank, or raise the voltage."
        )
    return "; or ".join(f"{choice.name}, fused at {choice.fuse:g} A" for choice in choices) + "."


def _figures(
    run: CableRun, draw: InverterDraw, held: Surge, tried: Option
) -> tuple[tuple[str, str], ...]:
    return (
        ("for hours", f"{draw.watts:.0f} W: {amps(draw.amps)} at {draw.lowest_volts:g} V"),
        ("for seconds", f"{draw.surge_watts:.0f} W: {amps(draw.surge_amps)}"),
        ("run ONE WAY", f"{metres(run.one_way_metres)}; both legs are counted"),
        (
            "drop allowed",
            f"{percent(run.drop, 1)} of {run.nominal_volts:g} V: {run.drop_volts:.2f} V",
        ),
        (
            "surge leaves",
            f"{held.inverter_volts:.1f} V at the inverter: the posts fall to "
            f"{held.bank_volts:.1f} V, {tried.name} takes {held.cable_volts:.2f} V",
        ),
    )


def _meaning(draw: InverterDraw, tried: Option) -> tuple[str, ...]:
    lines = [
        "Keep this cable short: the inverter stands beside the bank, and its AC goes the distance."
    ]
    lines += parallel_words(tried)
    if tried.fuse is not None:
        lines.append(
            f"The surge is {draw.surge_amps / tried.fuse:.1f} times the fuse; such fuses hold "
            f"{SURGE_OF_FUSE:g} times for some seconds (see its curve)."
        )
    return tuple(lines)


def _warnings(draw: InverterDraw, held: Surge, lowest: float, tried: Option) -> tuple[str, ...]:
    lines = []
    if held.inverter_volts <= lowest:
        lines.append(
            f"The surge pulls the inverter to {held.inverter_volts:.1f} V, below {lowest:g} V: it "
            "stops. A bigger bank or cable, or a softer start."
        )
    if tried.fuse is not None and draw.surge_amps > SURGE_OF_FUSE * tried.fuse:
        lines.append("The surge may open the fuse: a larger fuse asks for a larger cable.")
    return tuple(lines)
