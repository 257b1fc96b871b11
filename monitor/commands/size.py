"""`ampwright size`: wire, fuse, breaker, charger, set-points, air and bank, before drilling."""

from __future__ import annotations

import argparse
import json
import re
import shutil
import sys
from importlib import import_module
from typing import Final

#: Each in a module of `monitor.commands.sizes` with `arguments(parser)` and `sheet(arguments)`.
SIZES: Final = {
    "cable": "a charging cable: conductor, fuse, drop, heat, what the drop does to charging",
    "inverter": "the inverter's cable, from watts, efficiency, lowest voltage and surge",
    "ac": "input amps of a charger, breaker, what a supply has left, generator",
    "charger": "amps for a bank, hours to full, two in parallel, loads on top",
    "alternator": "what a hot alternator can spare, and the DC-DC charger for it",
    "set-points": "set-points of a chemistry at a temperature; --wall prints a table",
    "ventilation": "air for a battery compartment, hydrogen and water",
    "bank": "amp-hours for a day's use and days alone, and their layout",
}

#: A temperature below nought.
_BELOW_NOUGHT: Final = re.compile(r"-\d+(\.\d+)?\s*°?[CFcf]?")

#: Exit status where nothing in the tables will do; the sheet says why.
NO_ANSWER: Final = 1


def arguments(parser: argparse.ArgumentParser) -> None:
    sizes = parser.add_subparsers(dest="size", metavar="WHAT", required=True)
    for name, words in SIZES.items():
        chosen = sizes.add_parser(name, help=words, description=words[0].upper() + words[1:] + ".")
        _module(name).arguments(chosen)
        # "--at -5C" is a value, not an option; where argparse has no such attribute: --at=-5C
        chosen._negative_number_matcher = _BELOW_NOUGHT
        chosen.add_argument("--json", action="store_true", help="the machine form")
        chosen.add_argument(
            "--columns", type=int, metavar="N", help="width of the text, 40 to 80 (the terminal's)"
        )


def run(arguments: argparse.Namespace) -> int:
    from monitor.words.sheets import in_short, text

    sheet = _module(arguments.size).sheet(arguments)
    if arguments.json:
        print(json.dumps(sheet.machine(), indent=1, ensure_ascii=False))
    else:
        screen = shutil.get_terminal_size()
        shown = text(sheet, arguments.columns or screen.columns)
        if sys.stdout.isatty() and shown.count("\n") >= screen.lines:
            shown += "\n" + in_short(sheet, arguments.columns or screen.columns)
        print(shown, end="")
    return 0 if sheet.answered else NO_ANSWER


def _module(name: str):  # type: ignore[no-untyped-def]  # a module: its two functions are above
    return import_module(f"monitor.commands.sizes.{name.replace('-', '_')}")
