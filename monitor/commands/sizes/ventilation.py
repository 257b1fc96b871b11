"""`ampwright size ventilation`: air for a battery compartment, by IEC 62485-2."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from monitor.commands.sizes.options import add, add_bank, whole_bank
from monitor.sizing import written
from monitor.sizing.ventilation import (
    COACH_OPENING,
    Ventilation,
    gas_milliamps,
    hydrogen_litres,
    ventilation,
    ventilation_by_current,
    water_grams,
)
from monitor.words.measures import square_cm
from monitor.words.sheets import Sheet, Table

CAUTIONS = (
    "Hydrogen burns from 4 % in air. No flame, spark, relay or charger in the compartment.",
    "One opening low, one high, straight to the outside, never into the living space.",
)


def arguments(parser: argparse.ArgumentParser) -> None:
    add_bank(parser)
    add(
        parser,
        "--overcharge",
        written.amp_hours,
        "Ah beyond full, for gas and water (1)",
        metavar="AH",
    )
    add(
        parser,
        "--unregulated",
        written.amps,
        "a source that cannot turn itself down",
        metavar="AMPS",
    )


def sheet(arguments: argparse.Namespace) -> Sheet:
    bank, known = whole_bank(arguments)
    if not bank.chemistry.lead:
        return Sheet(
            "Ventilation",
            "Lithium cells make no gas in use: IEC 62485-2 asks for no air.",
            meaning=(
                "Give heat a way out, and keep the compartment closed to the living space: a "
                "failing cell vents flammable, poisonous gas.",
            ),
            assumptions=known.words,
            cautions=("Leave a compartment that smokes or hisses; do not open it.",),
            answer={"chemistry": bank.chemistry.name, "cubic_metres_per_hour": 0.0},
        )
    cases: list[tuple[str, Ventilation]] = []
    for words, boost in (("float", False), ("boost (absorption, equalize)", True)):
        gas = gas_milliamps(bank.chemistry.name, boost=boost)
        cases.append((words, ventilation(bank.cells, bank.amp_hours, gas)))
    if arguments.unregulated is not None:
        cases.append(("unregulated", ventilation_by_current(bank.cells, arguments.unregulated)))
    worst = max((case for _, case in cases), key=lambda case: case.cubic_metres_per_hour)
    extra = arguments.overcharge or 1.0
    water = water_grams(extra, bank.cells)
    hydrogen = hydrogen_litres(extra, bank.cells)
    rows = tuple(
        (
            words,
            f"{case.gas_milliamps_per_amp_hour:g}" if case.gas_milliamps_per_amp_hour else "all",
            f"{case.cubic_metres_per_hour:.2f}",
            f"{case.opening_square_cm:.1f}",
        )
        for words, case in cases
    )
    openings = max(worst.opening_square_cm, COACH_OPENING)
    return Sheet(
        "Ventilation",
        f"Two openings of {square_cm(openings)} each, one low and one high: "
        f"for {worst.cubic_metres_per_hour:.2f} m3 of air an hour by natural draught.",
        (
            ("cells in series", f"{bank.cells}"),
            (
                f"{extra:g} Ah beyond full",
                f"{hydrogen:.1f} L of hydrogen at 25 °C and {water:.1f} g of water, all cells "
                "together",
            ),
        ),
        (
            Table(
                ("charging", "gas mA/Ah", "air m3/h", "each opening cm2"),
                rows,
                "By IEC 62485-2:",
            ),
        ),
        _meaning(bank.chemistry.name, extra, water),
        (),
        (
            *known.words,
            "Q = 0.05 n Igas C / 1000; 28 Q for each opening (secondary copies of the standard)",
            "regulated charging, up to 40 °C for sealed cells; strings in parallel are in the Ah",
            f"never under {COACH_OPENING:g} cm2 each: NEC 552.10(D) asks 1100 mm2 top and bottom, "
            "within 50 mm, of a coach's battery compartment",
            "Faraday's law, all overcharge into gas: sealed cells recombine most of it",
        ),
        CAUTIONS,
        {
            "cases": {words: asdict(case) for words, case in cases},
            "opening_square_cm": openings,
            "overcharge_amp_hours": extra,
            "hydrogen_litres": hydrogen,
            "water_grams": water,
        },
    )


def _meaning(chemistry: str, extra: float, water: float) -> tuple[str, ...]:
    if chemistry in ("agm", "gel"):
        return (
            "Water that a sealed battery loses through its valve cannot be put back: overcharge "
            "is what kills it.",
        )
    return (
        f"Top up with distilled water after charging, never before: {water / extra:.1f} g for "
        "each Ah beyond full.",
    )
