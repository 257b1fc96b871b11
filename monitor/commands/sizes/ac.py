"""`ampwright size ac`: what a charger takes from its supply."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from monitor.commands.sizes.options import add
from monitor.sizing import written
from monitor.sizing.ac_input import (
    AIR_CONDITIONER,
    CONTINUOUS_SHARE,
    CORRECTED,
    EFFICIENCY,
    SUPPLIES,
    UNCORRECTED,
    ac_input,
    generator_share,
    generator_volt_amps,
    input_amps,
    nameplate,
    supply,
    system_of,
)
from monitor.words.measures import amps, both_celsius, percent
from monitor.words.sheets import Sheet, Table

CAUTIONS = (
    "AC wiring is for a qualified electrician. Keep AC and DC apart; bond the charger's case to "
    "the chassis, 8 AWG copper at least (NEC 551.20).",
    "Exhaust kills: run a generator outside, away from openings.",
)


def arguments(parser: argparse.ArgumentParser) -> None:
    add(parser, "--amps", written.amps, "DC amps at full output", metavar="AMPS", required=True)
    add(
        parser,
        "--dc-volts",
        written.volts,
        "while it gives them: the absorption set-point, 14.4",
        metavar="VOLTS",
        required=True,
    )
    add(parser, "--ac-volts", written.ac_volts, "of the supply (120)", metavar="VOLTS")
    add(parser, "--efficiency", written.fraction, "of the charger (85%%)", metavar="PART")
    add(
        parser,
        "--power-factor",
        written.fraction,
        "0.70 without correction (assumed), 0.99 with",
        metavar="PF",
    )
    add(parser, "--supply", written.whole("amps", 3, 100), "one more supply", metavar="AMPS")
    add(parser, "--air-conditioner", written.amps, "its amps, running", metavar="AMPS")
    add(parser, "--altitude", written.altitude, "of the generator: 1500m", metavar="HEIGHT")
    add(parser, "--air", written.celsius, "of the generator (25C)", metavar="TEMP")


def sheet(arguments: argparse.Namespace) -> Sheet:
    ac_volts = arguments.ac_volts or 120.0
    efficiency = arguments.efficiency or EFFICIENCY
    factor = arguments.power_factor or UNCORRECTED
    system = system_of(ac_volts)
    cooler = arguments.air_conditioner or AIR_CONDITIONER[system]
    charger = ac_input(arguments.dc_volts, arguments.amps, ac_volts, efficiency, factor)
    best = input_amps(arguments.dc_volts, arguments.amps, ac_volts, efficiency, CORRECTED)
    ratings = sorted({*SUPPLIES[system], *([arguments.supply] if arguments.supply else [])})
    supplies = [supply(rating, charger, arguments.amps, cooler) for rating in ratings]
    height, air = arguments.altitude or 0.0, 25.0 if arguments.air is None else arguments.air
    alone = nameplate(generator_volt_amps(charger, ac_volts, 0.0, height, air))
    both = nameplate(generator_volt_amps(charger, ac_volts, cooler, height, air))
    breaker = "none in the table" if charger.breaker is None else f"{charger.breaker} A"
    rows = tuple(
        (
            f"{each.rating} A",
            amps(each.continuous_amps),
            amps(each.left_amps) if each.left_amps > 0 else "too small",
            "fits" if each.air_conditioner_fits else "no",
            f"{each.charger_dc_amps:.0f} A",
        )
        for each in supplies
    )
    heads = ("supply", "for hours", "left", "air con.", "charger then, DC")
    return Sheet(
        "AC input of a charger",
        f"{charger.amps:.2f} A at {ac_volts:g} V; its own circuit: a breaker of {breaker}.",
        (
            ("DC output", f"{arguments.amps:g} A at {arguments.dc_volts:g} V"),
            ("from the supply", f"{charger.watts:.0f} W, {charger.volt_amps:.0f} VA"),
            ("with a power factor of 0.99", f"{best:.2f} A"),
            ("generator, charger alone", f"{alone:.0f} VA nameplate"),
            (f"with an air conditioner of {cooler:g} A", f"{both:.0f} VA nameplate"),
        ),
        (
            Table(
                heads,
                rows,
                f"Supplies at {ac_volts:g} V, one leg; air conditioner {cooler:g} A:",
            ),
        ),
        (
            "Left is what other loads may take for hours beside the charger. The last column is "
            "what the charger may be turned to while the air conditioner runs.",
            "Its compressor starts with several times its running amps for a second: supply and "
            "generator must stand that too.",
        ),
        _warnings(charger.breaker, factor, charger.amps, best),
        (
            f"efficiency {percent(efficiency)}, power factor {factor:.2f}"
            + ("" if arguments.power_factor else " (not given: a charger without correction)"),
            f"loads of three hours take {percent(CONTINUOUS_SHARE)} of a breaker at most "
            + ("(NEC 210.20(A))" if system == 120 else "(the NEC's margin, taken at 230 V too)"),
            *(("a supply of 50 A has two legs; the charger is on one",) if system == 120 else ()),
            f"generator loaded to {percent(CONTINUOUS_SHARE)} of what altitude and heat leave: "
            f"{percent(generator_share(height, air))} at {height:.0f} m, {both_celsius(air)}",
            "the supply holds its nominal voltage; a low one means more amps",
        ),
        CAUTIONS,
        {
            "input": asdict(charger),
            "supplies": [asdict(each) for each in supplies],
            "generator_volt_amps": alone,
            "generator_with_air_conditioner_volt_amps": both,
        },
    )


def _warnings(breaker: int | None, factor: float, amps_: float, best: float) -> tuple[str, ...]:
    lines = []
    if breaker is None:
        lines.append("More than the largest breaker in the table carries for hours.")
    if factor < 0.9:
        lines.append(
            f"The low power factor alone costs {amps_ - best:.1f} A of the supply: a corrected "
            "charger gives more from the same plug and the same generator."
        )
    return tuple(lines)
