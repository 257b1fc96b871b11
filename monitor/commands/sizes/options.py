"""Options that several sizes share, and the bank: written on the line, or of a configuration."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from monitor.bank import Bank, Source
from monitor.chemistries import CHEMISTRIES
from monitor.config_keys import say_which
from monitor.mishaps import Refusal
from monitor.sizing import written

NOMINAL: Final = (12, 24, 48)


def reading(parse: Callable[[str], Any]) -> Callable[[str], Any]:
    """A parser of `written` for argparse: its one line becomes the command's."""

    def read(text: str) -> Any:
        try:
            return parse(text)
        except written.Unreadable as error:
            raise argparse.ArgumentTypeError(str(error)) from None

    return read


def add(
    parser: argparse.ArgumentParser, name: str, parse: Callable[[str], Any], words: str, **more: Any
) -> None:
    parser.add_argument(name, type=reading(parse), help=words, **more)


def nominal(text: str) -> int:
    bare = text.strip().lower().removesuffix("v")
    if bare in {"12", "24", "48"}:
        return int(bare)
    raise written.Unreadable(f"expected 12, 24 or 48 volts; found {text!r}")


def chemistry(text: str) -> str:
    if text in CHEMISTRIES:
        return text
    which = say_which(text)
    raise written.Unreadable(
        f"expected one of {', '.join(CHEMISTRIES)}; found {text!r}{which and '; ' + which}"
    )


def add_bank(parser: argparse.ArgumentParser) -> None:
    """The bank, written here or taken from the configuration."""
    parser.add_argument("--config", type=Path, metavar="FILE", help="take the bank from this file")
    parser.add_argument("--bank", metavar="NAME", help="which bank of it, where there are several")
    add(parser, "--chemistry", chemistry, ", ".join(CHEMISTRIES), metavar="NAME")
    add(parser, "--volts", nominal, "nominal: 12, 24 or 48", metavar="VOLTS")
    add(parser, "--amp-hours", written.amp_hours, "20 h rate, the whole bank", metavar="AH")


@dataclass(frozen=True, slots=True)
class Told:
    """A bank, where its figures come from, and its sources. Volts and hours may be told alone."""

    bank: Bank | None
    volts: int | None
    words: tuple[str, ...]
    sources: tuple[Source, ...] = ()


def told(arguments: argparse.Namespace) -> Told:
    """What is known of the bank; what is written on the line outweighs the configuration."""
    bank: Bank | None = None
    sources: tuple[Source, ...] = ()
    words: list[str] = []
    if arguments.config is not None:
        from monitor.config import load_config

        config = load_config(arguments.config)
        site = config.site
        bank = _chosen(site.banks, arguments.bank, str(arguments.config))
        sources = tuple(source for source in site.sources if source.bank == bank.id)
        words.append(f"bank {bank.id} as in {arguments.config.name}")
    elif arguments.bank is not None:
        raise Refusal("--bank: expected --config FILE with it, found none")
    if bank is not None:
        changes: dict[str, Any] = {}
        if arguments.chemistry and arguments.chemistry != bank.chemistry.name:
            changes["chemistry"] = CHEMISTRIES[arguments.chemistry]
        if arguments.volts and arguments.volts != bank.nominal_volts:
            changes["nominal_volts"] = arguments.volts
        if arguments.amp_hours:
            changes["amp_hours"] = arguments.amp_hours
        if "chemistry" in changes or "nominal_volts" in changes:
            changes["set_points"] = type(bank.set_points)()
            words.append("set-points typical: those of the file belong to another bank")
        bank = replace(bank, **changes)
    elif arguments.chemistry and arguments.volts and arguments.amp_hours:
        bank = Bank("house", CHEMISTRIES[arguments.chemistry], arguments.volts, arguments.amp_hours)
    volts = bank.nominal_volts if bank is not None else arguments.volts
    if bank is not None:
        words.append(
            f"{bank.amp_hours:g} Ah at the 20 h rate, {bank.nominal_volts} V, "
            f"{bank.chemistry.words}, healthy"
        )
        if bank.set_points.absorption is None:
            words.append(f"set-points typical of {bank.chemistry.words}")
    return Told(bank, volts, tuple(words), sources)


def whole_bank(arguments: argparse.Namespace) -> tuple[Bank, Told]:
    """A bank with everything that a charge needs."""
    known = told(arguments)
    if known.bank is None:
        raise Refusal(
            "expected --chemistry, --volts and --amp-hours, or --config FILE; "
            f"found no {_missing(arguments)}"
        )
    return known.bank, known


def held_volts(bank: Bank, given: float | None, flag: str) -> float:
    """A charger's absorption set-point: as given if a bank like this could be held there."""
    kind = bank.chemistry
    if given is None:
        return bank.set_points.absorption or kind.absorption.typical * bank.cells
    low, high = 0.95 * kind.float_.low * bank.cells, 1.05 * kind.absorption.high * bank.cells
    if not low <= given <= high:
        raise Refusal(
            f"{flag}: expected {low:.1f} to {high:.1f} V for {bank.nominal_volts} V of "
            f"{kind.words}; found {given:g} V"
        )
    return given


def _missing(arguments: argparse.Namespace) -> str:
    names = {"--chemistry": "chemistry", "--volts": "volts", "--amp-hours": "amp_hours"}
    return ", ".join(flag for flag, name in names.items() if not getattr(arguments, name))


def _chosen(banks: tuple[Bank, ...], name: str | None, where: str) -> Bank:
    if name is None and len(banks) == 1:
        return banks[0]
    for bank in banks:
        if bank.id == name:
            return bank
    listed = ", ".join(bank.id for bank in banks)
    found = "none named" if name is None else f'"{name}"'
    raise Refusal(f"{where}: expected --bank, one of {listed}; found {found}")
