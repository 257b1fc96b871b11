"""`ampwright size alternator`: charging from the engine, by what is left when it is hot."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from monitor.commands.sizes.options import add, add_bank, nominal, whole_bank
from monitor.sizing import written
from monitor.sizing.alternator import (
    EFFICIENCY,
    HOT_CRUISE,
    HOT_IDLE,
    LOWEST_INPUT,
    VEHICLE_AMPS,
    dc_dc_input,
    engine_charging,
)
from monitor.sizing.charger import charge_time
from monitor.words.measures import amps, hours, percent
from monitor.words.sheets import Sheet, Table

CAUTIONS = (
    "A DC-DC charger is fused at both ends and switched by the ignition: left on it empties the "
    "starting battery.",
    "Feel nothing near belts and fans of a running engine; an alternator at full output burns.",
    "Never disconnect a bank from a running alternator: the surge destroys its diodes.",
)


def arguments(parser: argparse.ArgumentParser) -> None:
    add(
        parser,
        "--nameplate",
        written.amps,
        "amps on its label (cold and fast)",
        metavar="AMPS",
        required=True,
    )
    add(parser, "--hot-idle", written.amps, "the maker's figure, hot at idle", metavar="AMPS")
    add(parser, "--hot-cruise", written.amps, "the maker's figure, hot and fast", metavar="AMPS")
    add(parser, "--vehicle", written.amps_or_none, "what the vehicle takes (30)", metavar="AMPS")
    add(parser, "--vehicle-volts", nominal, "12 or 24 (12)", metavar="VOLTS")
    add(parser, "--dc-dc", written.amps, "output of a DC-DC charger you have", metavar="AMPS")
    add(parser, "--from", written.charge, "charge at the start (50%%)", metavar="SOC", dest="soc")
    add_bank(parser)


def sheet(arguments: argparse.Namespace) -> Sheet:
    bank, known = whole_bank(arguments)
    soc = 0.5 if arguments.soc is None else arguments.soc
    system = arguments.vehicle_volts or 12
    in_volts = LOWEST_INPUT * system / 12
    house = bank.set_points.absorption or bank.chemistry.absorption.typical * bank.cells
    vehicle = VEHICLE_AMPS * 12 / system if arguments.vehicle is None else arguments.vehicle
    engine = engine_charging(
        arguments.nameplate,
        house,
        in_volts=in_volts,
        hot_idle=arguments.hot_idle,
        hot_cruise=arguments.hot_cruise,
        vehicle_amps=vehicle,
    )
    size = arguments.dc_dc or engine.dc_dc_amps
    takes = dc_dc_input(size, house, in_volts)
    cases = {
        "at idle": engine.dc_dc_amps,
        "cruising": engine.dc_dc_cruise_amps,
    }
    most = arguments.dc_dc or engine.dc_dc_cruise_amps
    rows = []
    for words, able in cases.items():
        given = min(able, most)
        time = charge_time(bank, given, soc) if given > 0.05 else None
        rows.append(
            (
                words,
                amps(given),
                hours(time.hours_to_held) if time else "never",
                hours(time.hours_to_full) if time else "never",
            )
        )
    return Sheet(
        "Charging from the engine",
        f"A DC-DC charger of up to {amps(engine.dc_dc_amps)} output lives on a hot alternator at "
        f"idle; up to {amps(engine.dc_dc_cruise_amps)} if it only charges while driving.",
        (
            ("nameplate", f"{amps(engine.nameplate)}, cold and fast"),
            ("hot, at idle", f"{amps(engine.hot_idle)}, {amps(engine.spare_idle)} to spare"),
            ("hot, cruising", f"{amps(engine.hot_cruise)}, {amps(engine.spare_cruise)} to spare"),
            ("for hours at most", amps(engine.all_day_amps)),
            (
                f"a DC-DC charger of {size:.0f} A",
                f"takes {amps(takes)} at {in_volts:g} V: size its cable for that",
            ),
        ),
        (
            Table(
                ("engine", "into bank", "voltage held", "full after"),
                tuple(rows),
                f"The bank from {percent(soc)}:",
            ),
        ),
        (
            "Without a DC-DC charger the alternator's own regulator sets the voltage, which suits "
            "the starting battery; into lithium an idling alternator gives all it has and burns.",
            "Drives are shorter than a full charge: count on bulk, and let shore or sun finish.",
        ),
        _warnings(arguments.dc_dc, engine.dc_dc_amps, engine.dc_dc_cruise_amps, engine.spare_idle),
        (
            *known.words,
            _hot(arguments),
            f"the vehicle takes {amps(vehicle)} with lights and fans",
            f"DC-DC efficiency {percent(EFFICIENCY)}; {in_volts:g} V arrive at its input at worst",
            "half of the nameplate for hours at most (common practice)",
            "hours by the forecast that the screen uses, bank at 25 °C, no loads",
        ),
        CAUTIONS,
        {"engine": asdict(engine), "dc_dc_amps": size, "dc_dc_input_amps": takes},
        engine.dc_dc_cruise_amps > 0,
    )


def _hot(arguments: argparse.Namespace) -> str:
    if arguments.hot_idle and arguments.hot_cruise:
        return "hot output as given"
    return (
        f"hot output {percent(HOT_IDLE)} of the nameplate at idle, {percent(HOT_CRUISE)} cruising "
        "(common practice), where not given"
    )


def _warnings(
    dc_dc: float | None, idle: float, cruise: float, spare_idle: float
) -> tuple[str, ...]:
    lines = []
    if spare_idle <= 0:
        lines.append("At idle the vehicle takes all: nothing is left for the house bank.")
    if dc_dc is not None and dc_dc > cruise:
        lines.append(f"{amps(dc_dc)} is more than this alternator can feed at all.")
    elif dc_dc is not None and dc_dc > idle:
        lines.append(
            f"{amps(dc_dc)} is more than idle can feed: at a standstill it draws on the starting "
            "battery. Let it follow engine speed, or lower its output."
        )
    return tuple(lines)
