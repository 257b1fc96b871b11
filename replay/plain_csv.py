"""Plain CSV tables as recordings, and captures as plain CSV tables.

The first line names the columns, and times are seconds that need not begin at zero:

    t_s,v_bank,i_net,temp_c,v_source
    0.0,12.71,-3.2,18.5,

`t_s` and at least one column of `COLUMNS` must be there; any other quantity may stand under its
full name ("load_amps"). Columns of other names are passed over. An empty cell, or one that is not
a finite number ("nan"), is a missing value: it is left out of the reading, never taken as zero.
Rows are taken as they stand, with times out of order or repeated: what to make of those is for the
engine to decide. A file may be gzip, whatever its name.

A table is checked as a whole when it is opened and then read again as it plays, so that nothing of
it stays in memory.
"""

from __future__ import annotations

import codecs
import csv
import math
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from adapters.reading import QUANTITIES, Channel, Quantity, Reading, Scope
from replay.header import Header
from replay.sealed_lines import Blocks, CaptureError

TIME_COLUMN: Final = "t_s"

#: Short names of the usual columns; every quantity of a bank or a source also has its own.
COLUMNS: Final[Mapping[str, Quantity]] = {
    "v_bank": Quantity.BANK_VOLTS,
    "i_net": Quantity.BANK_AMPS,
    "temp_c": Quantity.BANK_CELSIUS,
    "v_source": Quantity.SOURCE_VOLTS,
    "i_source": Quantity.SOURCE_AMPS,
    **{
        quantity.value: quantity
        for quantity, properties in QUANTITIES.items()
        if properties.scope is not Scope.CELL
    },
}

#: What readings of a table say of their device.
DEVICE: Final = "csv"

_SHOWN: Final = 40


@dataclass(frozen=True, slots=True)
class CsvOptions:
    """How to read a table: whose figures they are, and what its columns are called.

    `columns` maps our names to those in the file: {"v_bank": "Battery voltage", "t_s": "time"}.
    """

    bank: str = "bank"
    source: str = "source"
    columns: Mapping[str, str] = field(default_factory=dict)


class CsvTable:
    """A checked table. `inputs` reads it anew each time."""

    def __init__(self, path: Path, options: CsvOptions) -> None:
        self.path = path
        self.options = options
        self.header = Header(title=path.name, origin=f"imported from {path.name}")
        self.rows = 0
        self.start = self.end = 0.0
        for reading in self.inputs():
            if not self.rows:
                self.start = self.end = reading.seconds
            self.end = max(self.end, reading.seconds)
            self.rows += 1
        if not self.rows:
            raise CaptureError(f"{path}: no rows below the column names; expected figures there")

    @property
    def title(self) -> str:
        return self.header.title

    def inputs(self) -> Iterator[Reading]:
        """Every row as one reading of the device "csv", in the order of the file."""
        lines = _cells(self.path)
        first = next(lines, None)
        if first is None:
            raise CaptureError(f"{self.path}: is empty; expected a line of column names first")
        names = [name.strip() for name in first[1]]
        time_at, figures = _layout(self.path, names, self.options)
        for number, cells in lines:
            if len(cells) != len(names):
                raise CaptureError(
                    f"{self.path}: line {number}: expected {len(names)} cells as in line 1, "
                    f"found {len(cells)}; complete the line or take it out"
                )
            yield Reading(
                self._time(cells[time_at], number, names[time_at]),
                DEVICE,
                tuple(
                    (channel, figure)
                    for at, channel in figures
                    if (figure := self._figure(cells[at], number, names[at], channel)) is not None
                ),
            )

    def _time(self, cell: str, number: int, name: str) -> float:
        seconds = _float(cell)
        if seconds is None or not math.isfinite(seconds):
            raise self._amiss(number, name, "a time in seconds", cell)
        return seconds

    def _figure(self, cell: str, number: int, name: str, channel: Channel) -> float | str | None:
        text = cell.strip()
        if not text:
            return None
        if QUANTITIES[channel.quantity].unit == "text":
            return text
        figure = _float(text)
        if figure is None:
            raise self._amiss(number, name, "a number or nothing", cell)
        return figure if math.isfinite(figure) else None

    def _amiss(self, number: int, name: str, expected: str, found: str) -> CaptureError:
        return CaptureError(
            f"{self.path}: line {number}: column {name}: expected {expected}, "
            f"found {found[:_SHOWN]!r}; correct the cell or leave the column out"
        )


def read_csv(
    path: str | os.PathLike[str],
    bank: str = "bank",
    source: str = "source",
    columns: Mapping[str, str] | None = None,
) -> CsvTable:
    """Opens and checks a table. Raises `CaptureError` naming file, line and what was expected."""
    return CsvTable(Path(path), CsvOptions(bank, source, columns or {}))


def _float(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def _layout(
    path: Path, names: Sequence[str], options: CsvOptions
) -> tuple[int, list[tuple[int, Channel]]]:
    """Where the time stands, and which cell is which channel."""
    for ours in options.columns:
        if ours != TIME_COLUMN and ours not in COLUMNS:
            known = ", ".join([TIME_COLUMN, *COLUMNS])
            raise CaptureError(f"column mapping: {ours!r} is not known; use one of {known}")
    for ours, theirs in options.columns.items():
        if theirs not in names:
            raise _not_found(path, f"{theirs} (mapped to {ours})", names)
    taken = {theirs: ours for ours, theirs in options.columns.items()}
    if len(taken) < len(options.columns):
        raise CaptureError("column mapping: two of our columns are mapped to the same one of yours")
    ours_by_place = [taken.get(name, "" if name in options.columns else name) for name in names]
    repeated = {name for name in ours_by_place if name and ours_by_place.count(name) > 1}
    for name in repeated & {TIME_COLUMN, *COLUMNS}:
        raise CaptureError(f"{path}: line 1: column {name} stands there twice; rename one")
    if TIME_COLUMN not in ours_by_place:
        raise _not_found(path, TIME_COLUMN, names)
    figures = [
        (at, _channel(COLUMNS[name], options))
        for at, name in enumerate(ours_by_place)
        if name in COLUMNS
    ]
    if not figures:
        raise _not_found(path, "v_bank", names)
    seen: dict[Channel, int] = {}
    for at, channel in figures:
        if channel in seen:
            raise CaptureError(
                f"{path}: line 1: columns {names[seen[channel]]} and {names[at]} are both "
                f"{channel.quantity}; take one out"
            )
        seen[channel] = at
    return ours_by_place.index(TIME_COLUMN), figures


def _channel(quantity: Quantity, options: CsvOptions) -> Channel:
    of_bank = QUANTITIES[quantity].scope is Scope.BANK
    return Channel(options.bank if of_bank else options.source, quantity)


def _not_found(path: Path, wanted: str, names: Sequence[str]) -> CaptureError:
    found = ",".join(names)
    shown = found if len(found) <= 2 * _SHOWN else found[: 2 * _SHOWN] + "..."
    return CaptureError(
        f"{path}: line 1: expected a column {wanted}, found {shown!r}; "
        "separate names with commas, or map a column, as in v_bank=NAME"
    )


def _cells(path: Path) -> Iterator[tuple[int, list[str]]]:
    """Line number and cells of every line that is not blank."""
    table = csv.reader(_text_lines(path), strict=True)
    try:
        for cells in table:
            if any(cell.strip() for cell in cells):
                yield table.line_num, cells
    except csv.Error as error:
        raise CaptureError(
            f"{path}: line {table.line_num}: not a CSV table ({error}); correct the line"
        ) from None


def _text_lines(path: Path) -> Iterator[str]:
    decoder = codecs.getincrementaldecoder("utf-8-sig")()
    blocks = Blocks(path)
    rest, number = "", 0
    try:
        for block in blocks:
            pieces = (rest + decoder.decode(block)).split("\n")
            rest = pieces.pop()
            for piece in pieces:
                number += 1
                yield piece + "\n"
        rest += decoder.decode(b"", final=blocks.whole)
    except UnicodeDecodeError:
        raise CaptureError(
            f"{path}: line {number + 1} or soon after: not text in UTF-8; save the table as UTF-8"
        ) from None
    if not blocks.whole:
        raise CaptureError(
            f"{path}: the compressed file is cut short or damaged after line {number}; "
            "copy it again"
        )
    if rest:
        yield rest
