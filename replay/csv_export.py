"""A recording as a plain CSV table, with the column names that `replay.plain_csv` reads."""

from __future__ import annotations

import csv
import os
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Final, NamedTuple

from adapters.reading import QUANTITIES, Channel, Input, Quantity, Reading, Scope
from replay.plain_csv import COLUMNS, TIME_COLUMN
from replay.sealed_lines import CaptureError
from replay.writer import cannot_create

#: Columns that every table has, whether or not anything measured them.
_ALWAYS: Final = (Quantity.BANK_VOLTS, Quantity.BANK_AMPS, Quantity.BANK_CELSIUS)

#: The short name of each quantity that has one, else its own; the order is that of the columns.
_NAMES: Final = {quantity: name for name, quantity in reversed(list(COLUMNS.items()))}
_ORDER: Final = tuple(dict.fromkeys(COLUMNS.values()))


class Exported(NamedTuple):
    """Rows written, and readings left out that held nothing of this bank and source."""

    rows: int
    left_out: int
    columns: tuple[str, ...]


def export_csv(
    inputs: Callable[[], Iterable[Input]],
    out: str | os.PathLike[str],
    bank: str | None = None,
    source: str | None = None,
) -> Exported:
    """Writes one row for each reading that holds a figure of this bank or source.

    `inputs` is called twice: to find the columns, then to write (pass `capture.inputs`). Where a
    recording holds several banks or sources, say which. A cell is empty where that reading had no
    such figure: devices that are polled at different moments give rows of their own. Figures are
    written so that they read back exactly. Cells of single cells of a bank are not exported.
    """
    target = Path(out)
    found = {
        channel
        for reading in _readings(inputs())
        for channel, _ in reading.values
        if QUANTITIES[channel.quantity].scope is not Scope.CELL
    }
    of_bank = {channel for channel in found if QUANTITIES[channel.quantity].scope is Scope.BANK}
    chosen_bank = _one(bank, {channel.owner for channel in of_bank}, "bank", target)
    chosen_source = _one(source, {channel.owner for channel in found - of_bank}, "source", target)
    columns = [
        Channel(owner, quantity)
        for quantity in _ORDER
        for owner in [chosen_bank if QUANTITIES[quantity].scope is Scope.BANK else chosen_source]
        if quantity in _ALWAYS or Channel(owner, quantity) in found
    ]
    names = (TIME_COLUMN, *(_NAMES[channel.quantity] for channel in columns))
    rows = left_out = 0
    try:
        with target.open("x", encoding="utf-8", newline="") as file:
            table = csv.writer(file, lineterminator="\n")
            table.writerow(names)
            for reading in _readings(inputs()):
                figures = dict(reading.values)
                if figures.keys().isdisjoint(columns):
                    left_out += 1
                    continue
                rows += 1
                cells = [figures.get(channel, "") for channel in columns]
                table.writerow([reading.seconds, *cells])
    except FileExistsError as error:
        raise cannot_create(target, error) from None
    except OSError as error:
        target.unlink(missing_ok=True)
        raise cannot_create(target, error) from None
    return Exported(rows, left_out, names)


def _readings(inputs: Iterable[Input]) -> Iterator[Reading]:
    return (value for value in inputs if isinstance(value, Reading))


def _one(wanted: str | None, found: set[str], what: str, target: Path) -> str:
    """The owner whose figures are written: the one named, or the only one there is."""
    listed = ", ".join(sorted(found)) or "none"
    if wanted is not None and wanted not in found:
        raise CaptureError(f"{target}: no {what} {wanted!r} in this recording; it holds {listed}")
    if wanted is None and len(found) > 1:
        raise CaptureError(f"{target}: the recording holds the {what}s {listed}; say which one")
    return wanted if wanted is not None else next(iter(found), "")
