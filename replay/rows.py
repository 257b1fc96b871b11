"""One row for everything a capture holds: every kind of input, and raw frames.

A row is a small JSON-able dict. `k` names its kind, `t` is monotonic seconds, `d` a device:

    reading   v: [[owner, quantity, figure or text], ...] in the order the device gave them
    link      up: true or false, why: the reason in words
    tick      w: Unix time minus monotonic seconds, left out where nothing changed
    command   who, do: the action, to: the target, note: left out when empty
    frame     tx: true for bytes sent, b: the bytes in hex
    summary   of: what a finished segment amounts to, the last row of it; no input (`replay.seal`)

Figures come back bit for bit: JSON writes the shortest text that reads back as the same float. A
figure that is not finite stands as a list of one word (["nan"], ["inf"], ["-inf"]), since JSON has
no number for it.

A later *minor* version may add kinds, actions and quantities; `from_row` gives None for a row it
does not know, and leaves out values of unknown quantities, so that the caller can count them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final, NamedTuple

from adapters.adapter import Frame
from adapters.reading import Action, Channel, Command, Input, LinkState, Quantity, Reading, Tick

#: Version of the rows and of the header: a change in the first number cannot be read by older
#: software, a change in the second only adds.
FORMAT_VERSION: Final = (1, 0)

#: Segments of a record: since then there are summaries, and a segment in the header.
SEGMENT_VERSION: Final = (1, 1)

#: The kind of the row that ends a sealed segment.
SUMMARY: Final = "summary"

Row = dict[str, object]
Recorded = Input | Frame


class RowError(ValueError):
    """A row that proves itself (its checksum holds) but is not made as rows are."""


class Decoded(NamedTuple):
    """What a row holds: None where this version does not know its kind, and how many values of a
    reading had a quantity that this version does not know."""

    value: Recorded | None
    unknown_values: int = 0


def to_row(value: Recorded) -> Row:
    """The row for an input or a raw frame."""
    match value:
        case Reading():
            values = [
                [channel.owner, channel.quantity.value, _packed(figure)]
                for channel, figure in value.values
            ]
            return {"k": "reading", "t": _packed(value.seconds), "d": value.device, "v": values}
        case Tick():
            row: Row = {"k": "tick", "t": _packed(value.seconds)}
            if value.wall_offset is not None:
                row["w"] = _packed(value.wall_offset)
            return row
        case LinkState():
            return {
                "k": "link",
                "t": _packed(value.seconds),
                "d": value.device,
                "up": value.up,
                "why": value.reason,
            }
        case Command():
            row = {
                "k": "command",
                "t": _packed(value.seconds),
                "who": value.who,
                "do": value.action.value,
                "to": value.target,
            }
            if value.note:
                row["note"] = value.note
            return row
        case Frame():
            return {
                "k": "frame",
                "t": _packed(value.seconds),
                "d": value.device,
                "tx": value.sent,
                "b": value.data.hex(),
            }


def from_row(row: Row) -> Decoded:
    """What a row holds. Raises `RowError` for a row of a known kind with something amiss."""
    kind = row.get("k")
    if kind is not None and not isinstance(kind, str):
        raise RowError("k should be text")
    decode = _DECODERS.get(kind)
    return decode(row) if decode else Decoded(None)


def _packed(figure: float | str) -> object:
    if isinstance(figure, float) and not math.isfinite(figure):
        return [repr(figure)]
    return figure


_NOT_FINITE: Final = {"nan": math.nan, "inf": math.inf, "-inf": -math.inf}


def _number(found: object, key: str) -> float:
    if isinstance(found, float):
        return found
    if type(found) is int:
        try:
            float(found)
        except OverflowError:
            raise RowError(f"{key} is beyond all numbers") from None
        return found
    match found:
        case [str(word)] if word in _NOT_FINITE:
            return _NOT_FINITE[word]
    raise RowError(f"{key} should be a number")


def _text(row: Row, key: str, otherwise: str | None = None) -> str:
    found = row.get(key, otherwise)
    if not isinstance(found, str):
        raise RowError(f"{key} should be text")
    return found


def _flag(row: Row, key: str) -> bool:
    found = row.get(key)
    if not isinstance(found, bool):
        raise RowError(f"{key} should be true or false")
    return found


def _seconds(row: Row) -> float:
    return _number(row.get("t"), "t")


def _reading(row: Row) -> Decoded:
    found = row.get("v")
    if not isinstance(found, list):
        raise RowError("v should be a list of values")
    values: list[tuple[Channel, float | str]] = []
    unknown = 0
    for entry in found:
        if not (isinstance(entry, list) and len(entry) == 3 and isinstance(entry[0], str)):
            raise RowError("a value should be [owner, quantity, figure]")
        owner, name, figure = entry
        quantity = _QUANTITIES.get(name) if isinstance(name, str) else None
        if quantity is None:
            unknown += 1
            continue
        if not isinstance(figure, str):
            figure = _number(figure, "a figure")
        values.append((Channel(owner, quantity), figure))
    return Decoded(Reading(_seconds(row), _text(row, "d"), tuple(values)), unknown)


def _link(row: Row) -> Decoded:
    return Decoded(LinkState(_seconds(row), _text(row, "d"), _flag(row, "up"), _text(row, "why")))


def _tick(row: Row) -> Decoded:
    offset = _number(row["w"], "w") if "w" in row else None
    return Decoded(Tick(_seconds(row), offset))


def _command(row: Row) -> Decoded:
    action = _ACTIONS.get(_text(row, "do"))
    if action is None:
        return Decoded(None)
    who, target, note = _text(row, "who"), _text(row, "to"), _text(row, "note", "")
    return Decoded(Command(_seconds(row), who, action, target, note))


def _frame(row: Row) -> Decoded:
    try:
        data = bytes.fromhex(_text(row, "b"))
    except ValueError:
        raise RowError("b should be hex") from None
    return Decoded(Frame(_seconds(row), _text(row, "d"), _flag(row, "tx"), data))


_QUANTITIES: Final[dict[str, Quantity]] = {quantity.value: quantity for quantity in Quantity}
_ACTIONS: Final[dict[str, Action]] = {action.value: action for action in Action}
_DECODERS: Final[dict[object, Callable[[Row], Decoded]]] = {
    "reading": _reading,
    "link": _link,
    "tick": _tick,
    "command": _command,
    "frame": _frame,
}
