"""`ampwright init`: write a configuration by answering questions."""

from __future__ import annotations

import argparse
import shutil
import sys
import textwrap
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

    # On a terminal words are kept whole; a pipe gets each line as it is.
    columns = shutil.get_terminal_size().columns if sys.stdout.isatty() else 0

    def say(words: str) -> None:
        print("\n".join(folded(words, columns)))

    def ask(words: str) -> str:
        *above, last = folded(words, columns)
        for line in above:
            print(line)
        return input(f"{last} ")

    write_config(arguments.file, ask, say)
    return 0


def folded(words: str, columns: int) -> list[str]:
    """Lines of whole words for so many columns, one of which is left for the cursor; 0: as it is.

    What continues a line that stands in, stands in as well.
    """
    if columns <= 0:
        return [words.rstrip()]
    indent = " " * (len(words) - len(words.lstrip()))
    return textwrap.wrap(
        words,
        max(columns - 1, 20),
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    ) or [""]
