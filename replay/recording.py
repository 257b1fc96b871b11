"""Whatever can be played: a capture or a plain CSV table, told apart by looking inside."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

from adapters.reading import Input
from replay.header import Header, looks_like_header
from replay.plain_csv import CsvOptions, CsvTable
from replay.reader import open_capture
from replay.sealed_lines import Blocks


class Recording(Protocol):
    """Inputs in the order in which they were recorded; every call of `inputs` begins anew.

    `start` and `end` are the first and the latest seconds in it.
    """

    header: Header

    @property
    def title(self) -> str: ...
    @property
    def start(self) -> float: ...
    @property
    def end(self) -> float: ...

    def inputs(self) -> Iterator[Input]: ...


def open_recording(
    path: str | os.PathLike[str], csv_options: CsvOptions | None = None
) -> Recording:
    """Opens a capture or a CSV table. Raises `CaptureError` where it cannot be used.

    A file whose first line begins with a brace is meant to be a capture; anything else is a table.
    """
    where = Path(path)
    head = next(iter(Blocks(where)), b"")
    if not head or looks_like_header(head) or head.startswith(b"{"):
        return open_capture(where)
    return CsvTable(where, csv_options or CsvOptions())
