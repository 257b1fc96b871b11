"""Options that several commands share, and what they mean."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final

from monitor.mishaps import Refusal

if TYPE_CHECKING:
    from monitor.config import Config
    from monitor.config_history import History

CONFIG_NAME: Final = "ampwright.toml"


def add_config(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--config",
        type=Path,
        metavar="FILE",
        help=f"the configuration (else ./{CONFIG_NAME}, else that in ~/.config/ampwright)",
    )


def add_keeping(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--state",
        type=Path,
        metavar="FILE",
        help="keep what is learned of the bank in FILE, and go on from it",
    )


def add_looks(parser: argparse.ArgumentParser) -> None:
    """How the screen looks; the choices are checked by the dashboard, which alone knows them."""
    parser.add_argument(
        "--plain", action="store_true", help="print a line for each change instead of a screen"
    )
    parser.add_argument("--theme", metavar="NAME", help="colours of the screen (key: see its help)")
    parser.add_argument(
        "--fahrenheit", action="store_true", help="temperatures on the screen in degrees Fahrenheit"
    )
    parser.add_argument(
        "--twelve-hours", action="store_true", help="clock times on the screen as 2:30 pm"
    )
    parser.add_argument("--mouse", action="store_true", help="let the screen take the mouse")


def config_path(given: Path | None) -> Path:
    """The configuration named, else the first that lies where one is looked for."""
    if given is not None:
        return given
    home = Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config")
    places = (Path(CONFIG_NAME), home / "ampwright" / CONFIG_NAME)
    for place in places:
        if place.is_file():
            return place
    raise Refusal(
        f"expected a configuration, found none at {places[0]} or {places[1]}; "
        "write one with: ampwright init"
    )


def config_of(given: Path | None, *, devices: bool = True) -> Config:
    """The configuration, read and checked; `devices` where at least one is needed."""
    from monitor.config import load_config

    config = load_config(config_path(given))
    if devices and not config.devices:
        raise Refusal(
            f"{config.name}: expected at least one device, found none; add a table "
            "[devices.shunt] or see the screen without one: ampwright demo"
        )
    return config


def record_for(config: Config, capture: Path | None) -> Path | None:
    """The record to write into: that of the configuration, unless a capture of its own is asked."""
    return config.history.directory if capture is None else None


def record_of(arguments: argparse.Namespace) -> History:
    """The record that is asked for: that of `--directory`, else that of the configuration.

    Where only a directory is named, days begin at midnight as the configuration has it, if any.
    """
    import dataclasses

    from monitor.config_history import History

    if arguments.directory is not None:
        directory = arguments.directory
        if not directory.is_dir():
            raise Refusal(f"{directory}: expected the directory of a record, found none")
        try:
            history = config_of(arguments.config, devices=False).history
        except Refusal:
            history = History()
        return dataclasses.replace(history, directory=directory)
    config = config_of(arguments.config, devices=False)
    if config.history.directory is None:
        raise Refusal(
            f"{config.name}: keeps no record; add a table [history] with "
            'directory = "history", or name one with --directory'
        )
    if not config.history.directory.is_dir():
        raise Refusal(
            f"{config.history.directory}: nothing recorded yet; start with: ampwright record"
        )
    return config.history


def day(text: str) -> str:
    """A day as an option: 2026-03-14."""
    import datetime

    try:
        return datetime.date.fromisoformat(text).isoformat()
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"expected a day as in 2026-03-14, found {text!r}"
        ) from None


def add_days(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--from", dest="first", type=day, metavar="DAY", help="the first day, as in 2026-03-14"
    )
    parser.add_argument("--to", dest="last", type=day, metavar="DAY", help="the last day")


def days_in_order(arguments: argparse.Namespace) -> None:
    """Refuse a period that ends before it begins: it would hold nothing, and say so wrongly."""
    first, last = arguments.first, arguments.last
    if first is not None and last is not None and first > last:
        raise Refusal(f"--from {first} --to {last}: expected the earlier day first; exchange them")


def on_a_terminal() -> bool:
    """Whether there is a screen to draw on and a keyboard to read.

    Textual draws on stderr; where that goes into a file, lines on stdout are all that is seen. In a
    browser its driver is chosen for us, and there is no terminal.
    """
    if "TEXTUAL_DRIVER" in os.environ:
        return True
    return (
        sys.stdin.isatty()
        and sys.stdout.isatty()
        and sys.stderr.isatty()
        and os.environ.get("TERM", "") not in ("", "dumb")
    )


def rate(text: str) -> float:
    """A rate as an option, for argparse."""
    from replay.rate import parse_rate

    try:
        return parse_rate(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error).removeprefix("rate: ")) from None


def seconds(text: str) -> float:
    """A duration as an option: seconds, or with a unit (90, 10m, 8h)."""
    factor = {"s": 1.0, "m": 60.0, "h": 3600.0}.get(text[-1:], 0.0)
    number = text[:-1] if factor else text
    try:
        value = float(number) * (factor or 1.0)
    except ValueError:
        value = -1.0
    if not 0 < value < 1e9:
        raise argparse.ArgumentTypeError(f"expected seconds above 0, or 10m, or 8h; found {text!r}")
    return value


def columns(text: str) -> dict[str, str]:
    """A column mapping as an option: "v_bank=Battery V,t_s=time"."""
    mapping: dict[str, str] = {}
    for pair in text.split(","):
        ours, equals, theirs = pair.partition("=")
        if not (ours.strip() and equals and theirs.strip()):
            raise argparse.ArgumentTypeError(f"expected OURS=THEIRS,... found {text!r}")
        mapping[ours.strip()] = theirs.strip()
    return mapping


def add_columns(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--columns",
        type=columns,
        default={},
        metavar="OURS=THEIRS,...",
        help="what a table calls its columns: v_bank=volts,i_net=amps,t_s=time",
    )
