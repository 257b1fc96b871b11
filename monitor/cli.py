"""The command line: one small module in `monitor.commands` for each command.

Only the module of the command that was asked for is imported, and what it needs only when it runs:
`now` and `--help` answer quickly on a small board. Whatever a person can get wrong ends as one line
on stderr and exit status 2; no traceback reaches anybody.
"""

from __future__ import annotations

import argparse
import importlib
import io
import logging
import os
import re
import sys
from collections.abc import Sequence
from typing import Final, NoReturn

from monitor.words.in_ascii import IN_ASCII

PROGRAM: Final = "ampwright"

#: Exit status of whatever a person can put right.
USER_ERROR: Final = 2

#: Exit status of a fault of the program itself (EX_SOFTWARE of sysexits.h).
OUR_FAULT: Final = 70

#: What the shell shows for a program that was interrupted: 128 + SIGINT.
INTERRUPTED: Final = 130

COMMANDS: Final = {
    "watch": "show the bank live, from the devices of the configuration",
    "now": "how the bank is right now, in a few lines",
    "serve": "read the devices without a screen; watch and now attach to it",
    "size": "wire, fuse, breaker, charger, set-points, air and bank, before drilling",
    "service": "let the service manager start serve and keep it alive",
    "plan": "how full at dawn, how long a generator, can a load run, will the sun do",
    "explain": "the whole chain behind one moment of a capture, as text",
    "demo": "show a recording that comes with the program",
    "replay": "play a capture or a CSV table, or work it out into tables",
    "record": "record the devices into a capture, without a screen",
    "bench": "serve a recording as a device on the wire",
    "alarms": "the alarms of a capture, and how good they are as alarms",
    "commission": "prove a new installation, check by check",
    "report": "a commissioning on paper; does its evidence still say the same",
    "note": "enter into the log what was measured or done by hand",
    "notify": "try the command that tells you of alarms",
    "check": "check the configuration and try each device once",
    "devices": "what is plugged in, what can read it, and how well it is heard",
    "find": "find the registers of an undocumented device with a meter",
    "init": "write a configuration by answering questions",
    "history": "the record by days, charge cycles, months, what was entered, or segments",
    "capture": "verify, repair, import or export a capture; look after a record",
}

_ABOUT: Final = """\
Tells what charges the house bank of a coach, van or boat, how full the bank is,
when it will be full and what is wrong, from a shunt or controller on a wire or
from a recording."""


class Parser(argparse.ArgumentParser):
    """A parser whose complaints are one line."""

    def error(self, message: str) -> NoReturn:
        if wrong := _INVALID.fullmatch(message):
            option, kind, found = wrong.groups()
            message = f"{option}: expected {_KINDS.get(kind, kind)}, found {found}"
        self.exit(USER_ERROR, f"{self.prog}: {message}; see: {self.prog} --help\n")

    def parse_known_args(self, args=None, namespace=None):  # type: ignore[no-untyped-def]  # as the library's
        """What this command does not know is said by it, not by the program as a whole."""
        known, rest = super().parse_known_args(args, namespace)
        if rest:
            self.error(f"unrecognized arguments: {' '.join(rest)}")
        return known, rest


#: How the library tells of a value that is not of an option's kind, and what the kind is called.
_INVALID: Final = re.compile(r"argument (\S+?)(?:/\S+)?: invalid (\w+) value: (.*)", re.S)
_KINDS: Final = {"int": "a whole number", "float": "a number"}


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command; the exit status."""
    words = list(sys.argv[1:] if argv is None else argv)
    # Libraries that complain through logging would write into the middle of a screen.
    logging.getLogger().addHandler(logging.NullHandler())
    # Where a terminal or a log knows no degree sign it is spelled out or left out, and no line is
    # lost; on a screen, which is drawn on stderr, cells are counted and a question mark stands in.
    for stream, errors in ((sys.stdout, IN_ASCII), (sys.stderr, "replace")):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=errors)
    try:
        return _run(words)
    except BrokenPipeError:
        _close_broken_stdout()
        return 0
    except KeyboardInterrupt:
        return INTERRUPTED
    except Exception as error:
        from monitor.mishaps import in_one_line

        line, ours = in_one_line(error)
        print(f"{PROGRAM}: {line}", file=sys.stderr)
        return OUR_FAULT if ours else USER_ERROR


def _run(words: list[str]) -> int:
    command = next((word for word in words if not word.startswith("-")), None)
    parser = _parser(command)
    if command is not None and command not in COMMANDS:
        import difflib

        close = difflib.get_close_matches(command, COMMANDS, n=1)
        advice = f'did you mean "{close[0]}"' if close else f"one of {', '.join(COMMANDS)}"
        parser.error(f'expected a command, found "{command}"; {advice}')
    arguments = parser.parse_args(words)
    if arguments.version:
        return _version()
    if command is None:
        parser.print_help()
        return 0
    status: int = importlib.import_module(f"monitor.commands.{command}").run(arguments)
    sys.stdout.flush()
    return status


def _parser(command: str | None) -> Parser:
    parser = Parser(prog=PROGRAM, description=_ABOUT, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument(
        "--version", action="store_true", help="print the version and where it is installed"
    )
    parsers = parser.add_subparsers(dest="command", metavar="COMMAND", parser_class=Parser)
    for name, words in COMMANDS.items():
        chosen = parsers.add_parser(name, help=words, description=words.capitalize() + ".")
        if name == command:
            importlib.import_module(f"monitor.commands.{name}").arguments(chosen)
    return parser


def _version() -> int:
    from monitor.software import place, software

    print(f"{software()} in {place()}")
    return 0


def _close_broken_stdout() -> None:
    """Whoever read our output is gone: let the interpreter not complain of it at its end."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())


if __name__ == "__main__":
    sys.exit(main())
