"""`ampwright init`: write a configuration by answering questions."""

from __future__ import annotations

import argparse
from pathlib import Path

from monitor.commands.options import CONFIG_NAME


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "file",
        nargs="?",
        type=Path,
        default=Path(CONFIG_NAME),
        metavar="FILE",
        help=f"the file to write (else ./{CONFIG_NAME})",
    )


def run(arguments: argparse.Namespace) -> int:
    from monitor.setup import write_config

    write_config(arguments.file, input, print)
    return 0
