"""Conductors side by side: the table people read, and its machine form."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from monitor.sizing.wire_choice import Option
from monitor.words.measures import percent
from monitor.words.sheets import Table

_HEADS = ("conductor", "mm2", "drop", "share", "heat", "carries", "fuse", "will it do")


def option_table(options: Sequence[Option], asked: Option | None = None) -> Table:
    rows = tuple(
        (
            option.name,
            f"{option.conductor.square_mm:.3g}",
            f"{option.drop.volts:.2f} V",
            percent(option.drop_fraction, 2),
            f"{option.drop.watts:.0f} W",
            f"{option.ampacity:.0f} A",
            "none" if option.fuse is None else f"{option.fuse:g} A",
            _verdict(option, option is asked),
        )
        for option in options
    )
    return Table(_HEADS, rows, "Side by side (drop and heat of both legs together):", says=True)


def parallel_words(option: Option) -> tuple[str, ...]:
    """What several conductors side by side ask for."""
    if option.parallel == 1:
        return ()
    return (
        f"{option.parallel} conductors side by side: same length, same lugs, same posts, or one "
        "carries what the other should. If one comes off the rest may be over its ampacity: a fuse "
        "for each is safer. A shorter run or a higher voltage needs less copper.",
    )


def _verdict(option: Option, asked: bool) -> str:
    fails = ", ".join(_SHORT[why.split()[0]] for why in option.why_not)
    short = f"no: {fails}" if fails else "yes"
    return f"{short} (asked)" if asked else short


#: The first word of each reason in `wire_choice.judge`, shortened for a column.
_SHORT = {"may": "ampacity", "no": "fuse", "drops": "drop"}


def options_answer(options: Sequence[Option]) -> list[dict[str, Any]]:
    return [
        {
            "conductor": option.name,
            "square_mm": round(option.conductor.square_mm, 2),
            "parallel": option.parallel,
            "drop_volts": round(option.drop.volts, 4),
            "drop_fraction": round(option.drop_fraction, 5),
            "ohms": option.drop.ohms,
            "watts": round(option.drop.watts, 2),
            "watts_per_metre": round(option.drop.watts_per_metre, 3),
            "copper_celsius": round(option.drop.celsius, 1),
            "ampacity_amps": round(option.ampacity, 1),
            "fuse_amps": option.fuse,
            "suits": option.suits,
            "why_not": list(option.why_not),
        }
        for option in options
    ]
