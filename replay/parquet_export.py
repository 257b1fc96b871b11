"""A recording as a Parquet table, for those who analyse months: a row a reading, a column a figure.

Columns are `t_s` as in CSV, `device`, and `owner.quantity` for every channel found. pyarrow is an
extra: imported here alone, when a table is asked for.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any, Final

from adapters.extras import install
from adapters.reading import QUANTITIES, Channel, Input, Reading
from replay.csv_export import Exported
from replay.plain_csv import TIME_COLUMN
from replay.sealed_lines import CaptureError
from replay.writer import cannot_create

#: Rows of a row group: a day of one reading a second in two, some megabytes of memory.
_GROUP: Final = 50_000
_NO_LIBRARY: Final = (
    "Parquet needs a library that is not installed; export to a name ending in .csv, or "
    f"install it with: {install('parquet')}"
)


def export_parquet(inputs: Callable[[], Iterable[Input]], out: str | os.PathLike[str]) -> Exported:
    """Writes a row for each reading. `inputs` is called twice: for the columns, then to write."""
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError:
        raise CaptureError(_NO_LIBRARY) from None
    target = Path(out)
    if target.exists():
        raise cannot_create(target, FileExistsError())
    channels = sorted({c for reading in _readings(inputs()) for c, _ in reading.values})
    words = [QUANTITIES[channel.quantity].unit == "text" for channel in channels]
    schema = pyarrow.schema(
        [
            (TIME_COLUMN, pyarrow.float64()),
            ("device", pyarrow.string()),
            *(
                (column_name(channel), pyarrow.string() if text else pyarrow.float64())
                for channel, text in zip(channels, words, strict=True)
            ),
        ]
    )
    rows = 0
    try:
        with pyarrow.parquet.ParquetWriter(str(target), schema, compression="zstd") as table:
            for group in _groups(inputs(), channels, words):
                arrays = _arrays(pyarrow, group, schema)
                table.write_table(pyarrow.Table.from_arrays(arrays, schema=schema))
                rows += len(group[0])
    except OSError as error:
        target.unlink(missing_ok=True)
        raise cannot_create(target, error) from None
    return Exported(rows, 0, tuple(schema.names))


def column_name(channel: Channel) -> str:
    return f"{channel.owner}.{channel.quantity.value}"


def _arrays(pyarrow: Any, columns: list[list[Any]], schema: Any) -> list[Any]:
    return [
        pyarrow.array(column, field.type) for column, field in zip(columns, schema, strict=True)
    ]


def _groups(
    inputs: Iterable[Input], channels: list[Channel], words: list[bool]
) -> Iterator[list[list[Any]]]:
    """Columns of so many rows at a time. A figure where words belong, or words where a figure
    does, stay out: devices are not always of one mind."""
    columns: list[list[Any]] = [[] for _ in range(len(channels) + 2)]
    for reading in _readings(inputs):
        figures = dict(reading.values)
        columns[0].append(reading.seconds)
        columns[1].append(reading.device)
        for column, channel, text in zip(columns[2:], channels, words, strict=True):
            figure = figures.get(channel)
            column.append(figure if isinstance(figure, str) is text else None)
        if len(columns[0]) >= _GROUP:
            yield columns
            columns = [[] for _ in columns]
    if columns[0]:
        yield columns


def _readings(inputs: Iterable[Input]) -> Iterator[Reading]:
    return (value for value in inputs if isinstance(value, Reading))
