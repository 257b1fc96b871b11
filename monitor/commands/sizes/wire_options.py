"""Options that every cable has, and what they take for granted."""

from __future__ import annotations

import argparse

from monitor.commands.sizes.options import add
from monitor.sizing import written
from monitor.sizing.ampacity import ENGINE_SPACE_CELSIUS, TABLE_CELSIUS
from monitor.sizing.conductors import Conductor
from monitor.sizing.wire_choice import CableRun, candidates
from monitor.words.measures import both_celsius


def add_wire(parser: argparse.ArgumentParser) -> None:
    add(
        parser,
        "--one-way",
        written.length,
        "length of the run ONE WAY, source to bank: 18ft, 5.5m",
        metavar="LENGTH",
        required=True,
    )
    add(parser, "--insulation", written.insulation, "its rating: 105C, 90C, 75C", metavar="TEMP")
    add(parser, "--air", written.celsius, "the air along the run (30C)", metavar="TEMP")
    parser.add_argument("--engine-space", action="store_true", help="runs through an engine space")
    add(
        parser,
        "--bundled",
        written.whole("conductors in one bundle", 1, 60),
        "current-carrying conductors in its bundle (2)",
        metavar="N",
    )
    add(parser, "--joints", written.milliohm, "milliohm of lugs, fuse and switch", metavar="MOHM")
    parser.add_argument("--awg", action="store_true", help="AWG sizes only")
    parser.add_argument("--metric", action="store_true", help="mm2 sizes only")
    parser.add_argument("--sae", action="store_true", help="AWG by the smaller SAE areas")
    parser.add_argument("--tinned", action="store_true", help="tinned strands")


def cable_run(arguments: argparse.Namespace, amps: float, volts: float, drop: float) -> CableRun:
    return CableRun(
        amps,
        arguments.one_way,
        volts,
        drop if arguments.drop is None else arguments.drop,
        arguments.insulation or 105,
        TABLE_CELSIUS if arguments.air is None else arguments.air,
        arguments.engine_space,
        arguments.bundled or 2,
        arguments.joints or 0.0,
    )


def rows_of(arguments: argparse.Namespace) -> list[tuple[Conductor, ...]]:
    """AWG and metric rows, unless only one kind is asked for."""
    kinds = [False] if arguments.awg else [True] if arguments.metric else [False, True]
    return [
        candidates(metric=metric, tinned=arguments.tinned, sae=arguments.sae) for metric in kinds
    ]


def wire_assumptions(run: CableRun, arguments: argparse.Namespace) -> tuple[str, ...]:
    """Where the cable lies and what it is made of."""
    air = f"air of {both_celsius(run.air)} along the run"
    if run.engine_space:
        air += f": an engine space counts as {ENGINE_SPACE_CELSIUS:.0f} °C at least"
    copper = "SAE areas" if arguments.sae else "AWG areas (ASTM B258)"
    tin = "tinned" if arguments.tinned else "plain"
    joints = (
        f"{1e3 * run.joint_ohms:g} milliohm of joints"
        if run.joint_ohms
        else "joints, fuse and switch drop nothing (--joints adds them)"
    )
    return (
        f"{tin} stranded copper: {copper}; mm2 at the limit of IEC 60228 class 5",
        f"insulation for {run.insulation} °C; ampacity by 33 CFR 183.425 Table 5 (mm2 between its "
        "lines), a law for boats that coaches borrow",
        f"{air}; {run.bundled} current-carrying conductors in the bundle",
        "resistance at the temperature that the copper reaches at this current",
        joints,
        "conductors side by side, both legs, count as one bundle",
    )
