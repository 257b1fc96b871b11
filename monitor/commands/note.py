"""`ampwright note`: what was measured or done by hand, into the log of the bank."""

from __future__ import annotations

import argparse
import os
from datetime import datetime
from typing import TYPE_CHECKING, Final

from monitor.commands.options import add_config, config_of
from monitor.mishaps import Refusal

if TYPE_CHECKING:
    from adapters.reading import Command

#: Words, an example each, and what is said before hands go near acid or posts.
KINDS: Final = {
    "gravity": "specific gravity of every cell in order: gravity 1.265 1.260 1.262 ... --at 18C",
    "meter": "a hand-held meter at the posts: meter volts 12.62 (or amps, celsius)",
    "water": "water added: water 0.8L",
    "cleaned": "what was cleaned or tightened: cleaned terminals of all batteries",
    "replaced": "other batteries: what was learned of the old bank no longer counts",
    "text": "anything else: text second switch of the pump labelled",
}

_CAUTION: Final = (
    "Caution: acid burns and its gas explodes. Eye protection and gloves, no flame or spark, "
    "ventilate; a meter's probes never across the posts by more than its own rating."
)


def arguments(parser: argparse.ArgumentParser) -> None:
    kinds = "\n".join(f"  {name:9} {words}" for name, words in KINDS.items())
    parser.formatter_class = argparse.RawTextHelpFormatter
    parser.epilog = f"{_CAUTION}\n\nkinds:\n{kinds}"
    parser.add_argument("kind", metavar="KIND", help=f"one of {', '.join(KINDS)}")
    parser.add_argument("words", nargs="+", metavar="FIGURE or WORD")
    parser.add_argument("--bank", metavar="NAME", help="which bank, where there are several")
    parser.add_argument("--at", metavar="15C", help="temperature of the acid (gravity)")
    parser.add_argument("--when", metavar='"2026-05-03 14:00"', help="local time, if not now")
    parser.add_argument("--note", default="", help="anything to remember with it")
    parser.add_argument("--who", default=os.environ.get("USER") or "owner", help=argparse.SUPPRESS)
    add_config(parser)


def run(arguments: argparse.Namespace) -> int:
    import time

    from monitor import logbook
    from monitor.entries import entries_folder, put

    now = time.time()
    meant = _moment(arguments.when, now)
    bank = _bank(arguments)
    try:
        commands = _commands(arguments, bank)
    except logbook.EntryError as error:
        raise Refusal(str(error)) from None
    told = meant == now and _told(arguments, commands)
    if not told:
        put(entries_folder(), commands, meant)
    for each in commands:
        print(f"{each.target}: {each.note}")
    if arguments.kind == "gravity":
        _tell_spread(commands)
    if told:
        print("taken in by the service that runs")
    else:
        print("waits for watch, serve or record, which takes it in within seconds")
    return 0


def _told(arguments: argparse.Namespace, commands: tuple[Command, ...]) -> bool:
    """Whether a running service took it in: it may be another user's, with a folder of its own."""
    from monitor.commands.options import config_path
    from monitor.service.owner import owner_of

    owner = owner_of(config_path(arguments.config))
    if owner is None or not owner.socket:
        return False
    from pathlib import Path

    from monitor.service.caller import tell

    tell(Path(owner.socket), commands)
    return True


def _commands(arguments: argparse.Namespace, bank: str) -> tuple[Command, ...]:
    from monitor import logbook as log

    who, words, note = arguments.who, arguments.words, arguments.note
    text = " ".join(words)
    match arguments.kind:
        case "gravity":
            if arguments.at is None:
                raise log.EntryError(
                    "gravity: expected the temperature of the acid, found none; add --at 18C"
                )
            return log.gravity_entry(who, bank, words, log.celsius_of(arguments.at), note)
        case "meter":
            if len(words) != 2:
                raise log.EntryError(
                    f"meter: expected two words such as volts 12.62, found {text!r}"
                )
            return log.meter_entry(who, bank, words[0], words[1], note)
        case "water":
            return log.water_entry(who, bank, text, note)
        case "cleaned":
            return log.note_entry(who, bank, f"cleaned: {text}", note)
        case "replaced":
            return log.replaced_entry(who, bank, text)
        case "text":
            return log.note_entry(who, bank, text, note)
        case other:
            raise log.EntryError(f"note: expected one of {', '.join(KINDS)}, found {other!r}")


def _tell_spread(commands: tuple[Command, ...]) -> None:
    from monitor.logbook import GRAVITY_SPREAD, gravity_spread

    spread = gravity_spread(commands)
    if spread > GRAVITY_SPREAD:
        print(
            f"the cells are {spread:.3f} apart, more than {GRAVITY_SPREAD}: charge fully and "
            "equalize (flooded only), then measure again; a cell that stays low is failing"
        )


def _bank(arguments: argparse.Namespace) -> str:
    banks = [bank.id for bank in config_of(arguments.config, devices=False).site.banks]
    if arguments.bank is None and len(banks) == 1:
        return banks[0]
    if arguments.bank not in banks:
        found = f'"{arguments.bank}"' if arguments.bank else "none"
        raise Refusal(f"--bank: expected one of {', '.join(banks)}, found {found}")
    return str(arguments.bank)


def _moment(text: str | None, now: float) -> float:
    """When it was meant, in Unix seconds; never in the future."""
    if text is None:
        return now
    for form in ("%Y-%m-%d %H:%M", "%Y-%m-%d"):
        try:
            meant = datetime.strptime(text, form).timestamp()
        except ValueError:
            continue
        if meant <= now:
            return meant
        raise Refusal(f"--when: expected a time that has passed, found {text!r}")
    raise Refusal(f'--when: expected a local time such as "2026-05-03 14:00", found {text!r}')
