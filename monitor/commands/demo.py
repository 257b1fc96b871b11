"""`ampwright demo`: a recording that comes with the program."""

from __future__ import annotations

import argparse
import contextlib
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import Final

from monitor.commands.options import add_looks, rate
from monitor.mishaps import Refusal

#: The one that is shown where none is named: three days of shore power, sun, loads and a fault.
DEFAULT: Final = "pinewater"

_ENDINGS: Final = (".capture.gz", ".capture")


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("name", nargs="?", metavar="NAME", help="which one (see --list)")
    parser.add_argument("--list", action="store_true", help="what recordings there are")
    parser.add_argument("--rate", type=rate, metavar="N", help="recorded seconds a second, or max")
    add_looks(parser)


def run(arguments: argparse.Namespace) -> int:
    from monitor.commands.screens import play
    from monitor.recorded import open_recorded
    from replay.capture import open_capture

    names = shipped()
    if not names:
        raise Refusal("no recording came with this installation; install the program again")
    if arguments.list:
        for name in names:
            with shipped_path(name) as path:
                print(f"{name}: {open_capture(path).title}")
        return 0
    name = arguments.name or names[0]
    if name not in names:
        raise Refusal(f'expected one of {", ".join(names)}, found "{name}"')
    with shipped_path(name) as path:
        return play(open_recorded(path), arguments)


def shipped() -> list[str]:
    """Names of the recordings that come with the program, the one shown by default first."""
    folder = resources.files("replay") / "captures"
    if not folder.is_dir():
        return []
    found = (_name(item.name) for item in folder.iterdir())
    return sorted((name for name in found if name), key=lambda name: (name != DEFAULT, name))


@contextlib.contextmanager
def shipped_path(name: str) -> Iterator[Path]:
    """The file of a shipped recording."""
    folder = resources.files("replay") / "captures"
    item = next(item for item in folder.iterdir() if _name(item.name) == name)
    with resources.as_file(item) as path:
        yield path


def _name(file_name: str) -> str:
    """The name of a recording, empty for a file that is none."""
    for ending in _ENDINGS:
        if file_name.endswith(ending):
            return file_name.removesuffix(ending)
    return ""
