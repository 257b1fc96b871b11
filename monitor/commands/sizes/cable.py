"""`ampwright size cable`: a charging cable, thinner and thicker side by side."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from monitor.bank import Bank
from monitor.commands.sizes.fuse_words import FUSE_CAUTIONS, fuse_part
from monitor.commands.sizes.options import Told, add, add_bank, told
from monitor.commands.sizes.wire_options import add_wire, cable_run, rows_of, wire_assumptions
from monitor.commands.sizes.wire_words import option_table, options_answer, parallel_words
from monitor.mishaps import Refusal
from monitor.sizing import written
from monitor.sizing.drop_in_charging import DropInCharging, drop_in_charging
from monitor.sizing.wire_choice import (
    CHARGING_DROP,
    CableRun,
    Option,
    judge,
    rule_choice,
    side_by_side,
)
from monitor.words.measures import amps, both_celsius, hours, metres, percent
from monitor.words.sheets import Sheet

FROM_SOC = 0.5


def arguments(parser: argparse.ArgumentParser) -> None:
    add(parser, "--amps", written.amps, "what the source gives for hours", metavar="AMPS")
    parser.add_argument("--source", metavar="NAME", help="or the source of --config whose rating")
    add_wire(parser)
    add(parser, "--drop", written.drop, "of nominal, there and back (1.5%%)", metavar="PERCENT")
    add_bank(parser)
    add(parser, "--timer", written.hours, "absorption ends by a timer of so long", metavar="HOURS")
    parser.add_argument("--sense", action="store_true", help="the charger senses at the posts")
    add(parser, "--fault", written.fault, "short-circuit current of the bank", metavar="AMPS")
    add(parser, "--cable", written.wire, "judge this conductor too: 2/0, 50mm2", metavar="SIZE")


def sheet(arguments: argparse.Namespace) -> Sheet:
    known = told(arguments)
    if known.volts is None:
        raise Refusal("--volts: expected 12, 24 or 48, or --config FILE; found neither")
    run = cable_run(arguments, _amps(arguments, known), known.volts, CHARGING_DROP)
    groups = [side_by_side(run, rows) for rows in rows_of(arguments)]
    options = [option for group in groups for option in group]
    choices = [choice for group in groups if (choice := _first(group)) is not None]
    asked = None if arguments.cable is None else judge(run, arguments.cable)
    shown = [*options, *([asked] if asked is not None else [])]
    fuse = fuse_part(choices[0].fuse if choices else None, known, arguments.fault)
    tried = asked or (choices or options[-1:])[0]
    effect = _effect(run, known.bank, tried, arguments)
    return Sheet(
        "DC cable",
        _headline(run, choices),
        _figures(run, choices, asked),
        (option_table(shown, asked), *fuse.tables),
        (
            *parallel_words(tried),
            *_charging(effect, known.bank, tried.name, arguments.sense),
            *_why(run, known.bank, choices),
        ),
        fuse.warnings,
        (*wire_assumptions(run, arguments), *known.words, *fuse.assumptions),
        FUSE_CAUTIONS,
        {
            "run": asdict(run),
            "options": options_answer(shown),
            "chosen": [choice.name for choice in choices],
            **fuse.answer,
            "charging": None if effect is None else asdict(effect),
        },
        bool(choices),
    )


def _amps(arguments: argparse.Namespace, known: Told) -> float:
    if arguments.amps is not None:
        return float(arguments.amps)
    rated = {source.id: source.rated_amps for source in known.sources}
    if arguments.source is None:
        raise Refusal("--amps: expected the amps of the source, or --source with --config")
    if arguments.source not in rated:
        raise Refusal(
            f"--source: expected one of {', '.join(rated) or 'those of --config'}; "
            f'found "{arguments.source}"'
        )
    found = rated[arguments.source]
    if found is None:
        raise Refusal(f"--source {arguments.source}: it has no rated_amps; give --amps")
    return found


def _first(group: tuple[Option, ...]) -> Option | None:
    return next((option for option in group if option.suits), None)


def _headline(run: CableRun, choices: list[Option]) -> str:
    if not choices:
        return (
            f"Nothing in the tables carries {amps(run.amps)} over {metres(run.one_way_metres)} "
            "one way within that drop: shorten the run, raise the voltage, or allow more drop."
        )
    names = " or ".join(choice.name for choice in choices)
    if len({choice.fuse for choice in choices}) == 1:
        return f"{names}, fused at {choices[0].fuse:g} A."
    return "; or ".join(f"{choice.name}, fused at {choice.fuse:g} A" for choice in choices) + "."


def _figures(
    run: CableRun, choices: list[Option], asked: Option | None
) -> tuple[tuple[str, str], ...]:
    figures = [
        ("current, for hours", amps(run.amps)),
        ("run ONE WAY", f"{metres(run.one_way_metres)}; both legs are counted"),
        (
            "drop allowed",
            f"{percent(run.drop, 1)} of {run.nominal_volts:g} V: {_v(run.drop_volts)}",
        ),
    ]
    for option in choices:
        drop = option.drop
        figures.append(
            (
                option.name,
                f"drops {_v(drop.volts)} and makes {drop.watts:.0f} W of heat "
                f"({drop.watts_per_metre:.1f} W a metre), copper at {both_celsius(drop.celsius)}",
            )
        )
    if asked is not None:
        verdict = "will do" if asked.suits else "; ".join(asked.why_not)
        figures.append((f"asked: {asked.name}", verdict))
    return tuple(figures)


def _v(volts: float) -> str:
    return f"{volts:.2f} V"


def _effect(
    run: CableRun, bank: Bank | None, option: Option, arguments: argparse.Namespace
) -> DropInCharging | None:
    if bank is None or arguments.sense:
        return None
    timer = arguments.timer or bank.set_points.absorption_hours
    return drop_in_charging(bank, run.amps, option.drop.ohms, FROM_SOC, 25.0, timer)


def _charging(
    effect: DropInCharging | None, bank: Bank | None, name: str, sense: bool
) -> tuple[str, ...]:
    """What the drop does, in words."""
    general = (
        "A charger without sense leads takes the drop for charge: it reaches its set-point early, "
        "its current falls early, and full comes later. Where absorption ends by a timer at its "
        "own terminals, the charge ends early."
    )
    if sense:
        return (
            "The charger senses at the posts: it makes up for the drop, as far as its own voltage "
            "reaches; heat and ampacity stay as they are. Fuse the sense leads at the posts.",
        )
    if bank is None or effect is None:
        return (general, "Give --chemistry and --amp-hours to see by how much.")
    longer = effect.longer_hours
    held, ideal = percent(effect.held_soc), percent(effect.ideal_held_soc)
    if held == ideal:
        held, ideal = percent(effect.held_soc, 1), percent(effect.ideal_held_soc, 1)
    words = f"From {percent(FROM_SOC)}, through {name}, "
    if effect.held_soc is None or effect.ideal_held_soc is None:
        words += "so few amps do not bring this bank to its voltage within 48 h"
    elif longer is None:
        words += f"the charger reaches its voltage at {held} instead of {ideal}; not full in 48 h"
    else:
        words += (
            f"the charger reaches its voltage at {held} instead of {ideal}; full after "
            f"{hours(effect.hours)} instead of {hours(effect.ideal_hours)}, {hours(longer)} longer"
        )
    lines = [general, words + "."]
    if effect.timer_hours is not None:
        lines.append(
            f"With a timer of {hours(effect.timer_hours)} at the charger's own terminals it ends "
            f"at {percent(effect.timer_soc, 1)} instead of {percent(effect.ideal_timer_soc, 1)}, "
            "every time."
        )
    return tuple(lines)


def _why(run: CableRun, bank: Bank | None, choices: list[Option]) -> tuple[str, ...]:
    lines = []
    if run.drop == CHARGING_DROP and bank is not None and not bank.chemistry.lead:
        lines.append(
            "1.5 % is the target of every charging cable here. Lithium minds it least: where the "
            "run is long, --drop 3% costs it minutes, and watts."
        )
    elif run.drop == CHARGING_DROP:
        lines.append(
            "Why 1.5 % and not the usual 3 %: charging stages are judged in tenths of a volt. "
            f"{_v(run.drop_volts)} is as much as lead-acid wants its set-point moved for 6 °C; "
            "3 % for 12 °C."
        )
    rule = rule_choice(run)
    second = "more than 4/0" if rule is None else f"{rule.name} AWG"
    lines.append(
        f"Second opinion: ABYC E-11's rule by circular mils, SAE areas, drop alone: {second}."
    )
    gauge = next((choice for choice in choices if not choice.conductor.metric), None)
    if gauge is not None:
        lines.append(
            "Cable sold as AWG is often made to the smaller SAE areas: up to 12 % more drop. "
            "--sae counts with those."
        )
    return tuple(lines)
