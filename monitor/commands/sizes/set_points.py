"""`ampwright size set-points`: at one temperature, or a table for the wall."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from monitor.bank import Chemistry, SetPoints
from monitor.chemistries import CHEMISTRIES
from monitor.commands.sizes.options import add, add_bank, told
from monitor.mishaps import Refusal
from monitor.sizing import written
from monitor.sizing.set_points import WALL_VOLTS, SetPointsAt, set_points_at, wall_table
from monitor.words.measures import both_celsius
from monitor.words.sheets import Sheet, Table


def arguments(parser: argparse.ArgumentParser) -> None:
    add_bank(parser)
    add(parser, "--at", written.celsius, "temperature of the bank (25C)", metavar="TEMP")
    parser.add_argument("--wall", action="store_true", help="the table to print and hang up")


def sheet(arguments: argparse.Namespace) -> Sheet:
    known = told(arguments)
    if known.bank is not None:
        chemistry, given = known.bank.chemistry, known.bank.set_points
    elif arguments.chemistry:
        chemistry, given = CHEMISTRIES[arguments.chemistry], SetPoints()
    else:
        raise Refusal("--chemistry: expected one, or --config FILE; found neither")
    if arguments.wall:
        return _wall(chemistry, given, known.volts, known.bank is not None and _own(given))
    celsius = 25.0 if arguments.at is None else arguments.at
    volts = [known.volts or 12] if _own(given) or known.volts else list(WALL_VOLTS)
    points = {each: set_points_at(chemistry, each, celsius, given) for each in volts}
    first = points[volts[0]]
    heads = ("stage", *(f"{each} V bank" for each in volts))
    stages = tuple(
        (words, *(_v(getattr(point, name)) for point in points.values()))
        for words, name in _STAGES
        if words != "low hold" or first.low_hold is not None
    )
    return Sheet(
        "Set-points",
        _headline(chemistry, volts[0], first),
        (),
        (Table(heads, stages, "Volts at the posts of the whole bank:"),),
        (_why(chemistry),),
        _warnings(chemistry, first),
        _assumptions(chemistry, given),
        _cautions(chemistry),
        {
            "chemistry": chemistry.name,
            "celsius": celsius,
            "set_points": {str(each): asdict(point) for each, point in points.items()},
        },
    )


def _headline(chemistry: Chemistry, volts: int, point: SetPointsAt) -> str:
    words = f"{chemistry.words.capitalize()} at {both_celsius(point.celsius)}, {volts} V bank: "
    if not point.may_charge:
        return words + "do not charge."
    return words + f"absorption {point.absorption:.2f} V, float {_v(point.float_)} V."


_STAGES = (
    ("absorption", "absorption"),
    ("float", "float_"),
    ("low hold", "low_hold"),
    ("equalize", "equalize"),
)


def _own(given: SetPoints) -> bool:
    return given.absorption is not None or given.float_ is not None


def _v(volts: float | None) -> str:
    return "none" if volts is None else f"{volts:.2f}"


def _wall(chemistry: Chemistry, given: SetPoints, nominal: int | None, own: bool) -> Sheet:
    """A table for each voltage: one for a bank whose voltage is known, else three."""
    volts = [nominal] if nominal else list(WALL_VOLTS)
    tables = []
    answer = {}
    for each in volts:
        rows = wall_table(chemistry, each, given if own else None)
        answer[str(each)] = [asdict(row) for row in rows]
        equalize = chemistry.equalize is not None
        heads = (" °C", "°F", "absorb", "float", *(("equalize",) if equalize else ()))
        body = tuple(
            (
                f"{row.celsius:3.0f}",
                f"{1.8 * row.celsius + 32:.0f}",
                *(
                    (_v(row.absorption), _v(row.float_), *((_v(row.equalize),) if equalize else ()))
                    if row.may_charge
                    else ("no charge", *(("",) * (2 if equalize else 1)))
                ),
            )
            for row in rows
        )
        tables.append(Table(heads, body, f"{each} V bank, volts at the posts:"))
    return Sheet(
        f"Set-points for {chemistry.words}",
        "By the temperature of the bank, not of the air.",
        (),
        tuple(tables),
        (_why(chemistry),),
        (),
        _assumptions(chemistry, given),
        _cautions(chemistry),
        {"chemistry": chemistry.name, "wall": answer},
    )


def _why(chemistry: Chemistry) -> str:
    if not chemistry.lead:
        return (
            "Lithium is not compensated: the same volts at any temperature at which it may be "
            "charged. It needs no float; a charger that has to hold one holds it this low."
        )
    return (
        "Cold lead-acid wants more volts, warm less. Chargers stop following at the ends of their "
        "clamp: beyond those the figure stays."
    )


def _warnings(chemistry: Chemistry, point: SetPointsAt) -> tuple[str, ...]:
    lines = []
    if not point.may_charge:
        low, high = chemistry.charge_celsius
        lines.append(f"Do not charge it at this temperature: {low:.0f} to {high:.0f} °C only.")
    if point.clamped:
        lines.append("Beyond the clamp: compensation no longer follows.")
    return tuple(lines)


def _assumptions(chemistry: Chemistry, given: SetPoints) -> tuple[str, ...]:
    mv = given.compensation_mv_per_celsius_per_cell
    clamp = given.compensation_celsius or chemistry.compensation_celsius
    lines = []
    for words, name, value in (
        ("absorption", "absorption", given.absorption),
        ("float", "float_", given.float_),
        ("equalize", "equalize", given.equalize),
    ):
        source = "as configured" if value is not None else chemistry.sources.get(name, "")
        lines.append(f"{words}: {source}")
    if chemistry.lead:
        figure = chemistry.compensation_mv.typical if mv is None else mv
        source = "typical" if mv is None else "as configured"
        lines.append(
            f"compensation {figure:g} mV per °C and cell ({source}), followed from "
            f"{clamp[0]:.0f} to {clamp[1]:.0f} °C"
        )
    lines.append("the battery's own data sheet comes first")
    return tuple(lines)


def _cautions(chemistry: Chemistry) -> tuple[str, ...]:
    lines = []
    if chemistry.equalize is not None:
        lines.append("Equalize attended, ventilated, loads off; stop at 46 °C (115 °F).")
    else:
        lines.append("Never equalize this chemistry unless its maker's sheet asks for it.")
    if chemistry.lead:
        lines.append("Never charge a frozen battery; stop above 50 °C (122 °F).")
    else:
        lines.append("Never charge lithium below 0 °C (32 °F).")
    return tuple(lines)
