"""Bytes to figures, and nothing else: no bus, no clock, no memory.

A CAN frame of RV-C has an id of 29 bits, priority (3), DGN (17), source address (8), as J1939 has
it, and up to eight bytes of data.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple

from adapters.rvc.table import INSTANCE, LAYOUTS, LINE, PRIORITY, SIDE, Absent, Field, Layout

Fields = Mapping[str, float | Absent]

_DGN_BITS: Final = 0x1FFFF

#: Added to the line of what an AC side gives, so that it is never taken for what feeds it.
OUTPUT: Final = 4


class Id(NamedTuple):
    """The three parts of a 29-bit id."""

    priority: int
    dgn: int
    source: int


class Message(NamedTuple):
    """A frame of the table, decoded. `line` is the leg of an AC supply. `rank` is the device's own
    priority as a source of this figure, higher is better, 0 where it gives none."""

    layout: Layout
    source: int
    instance: int
    line: int
    rank: float
    fields: Fields


def split_id(can_id: int) -> Id:
    return Id(can_id >> 26 & 7, can_id >> 8 & _DGN_BITS, can_id & 0xFF)


def value_of(field: Field, data: bytes) -> float | Absent:
    """The figure of one field, or why there is none. A field that is cut off is not sent."""
    kind = field.kind
    if field.bit + kind.bits > 8 * min(len(data), 8):
        return Absent.NOT_SENT
    raw = int.from_bytes(data[:8], "little") >> field.bit & (1 << kind.bits) - 1
    return kind.absent.get(raw) or (raw - kind.zero) * kind.scale


def decode(layout: Layout, data: bytes) -> dict[str, float | Absent]:
    """Every field of a message by name."""
    return {field.name: value_of(field, data) for field in layout.fields}


def message(can_id: int, data: bytes) -> Message | None:
    """What a frame says; None where it is not in the table or names no instance."""
    parts = split_id(can_id)
    layout = LAYOUTS.get(parts.dgn)
    if layout is None:
        return None
    fields = decode(layout, data)
    instance = fields[INSTANCE]
    if isinstance(instance, Absent):
        return None
    rank = fields.get(PRIORITY, 0.0)
    return Message(
        layout,
        parts.source,
        int(instance),
        _index(fields, LINE) + OUTPUT * _index(fields, SIDE),
        0.0 if isinstance(rank, Absent) else rank,
        fields,
    )


def _index(fields: Fields, name: str) -> int:
    index = fields.get(name, 0.0)
    return 0 if isinstance(index, Absent) else int(index)
