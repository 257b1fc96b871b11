"""The SunSpec models that are read: their points, and how registers become values.

A model is a run of registers: id, length, points one after the other, then perhaps a group of
points that repeats. `models.json` holds the definitions (`make_tables.py` made it, `NOTICE` has
its licence). Registers are big-endian; a point is scaled by a power of ten that a point of its
model holds, and each type has a value that means "not implemented".

What a device states is not trusted further than it reaches: a model shorter than its definition
has fewer points, a count of groups is bounded by the length.
"""

from __future__ import annotations

import functools
import json
import math
import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from importlib import resources
from typing import Any, Final, NamedTuple

Value = int | float | str | None

#: Registers of a model by their offset from its id; a register that was not read is missing.
Words = Mapping[int, int]

#: Id and length, the first two registers of every model.
HEADER: Final = 2

#: The bounds of a scale factor (type sunssf of the SunSpec information model); one outside, or not
#: implemented, leaves a raw number without a size: then there is no value.
SCALE_BOUNDS: Final = (-10, 10)


class PointType(NamedTuple):
    """`code` is that of `struct`; `absent` the number that says "not implemented"."""

    code: str
    absent: int | None


#: By their names in the model files. A total (acc) that never counted is not implemented.
TYPES: Final[dict[str, PointType]] = {
    "int16": PointType("h", -0x8000),
    "uint16": PointType("H", 0xFFFF),
    "count": PointType("H", 0xFFFF),
    "enum16": PointType("H", 0xFFFF),
    "bitfield16": PointType("H", 0xFFFF),
    "sunssf": PointType("h", -0x8000),
    "int32": PointType("i", -0x8000_0000),
    "uint32": PointType("I", 0xFFFF_FFFF),
    "enum32": PointType("I", 0xFFFF_FFFF),
    "bitfield32": PointType("I", 0xFFFF_FFFF),
    "acc32": PointType("I", 0),
    "uint64": PointType("Q", 0xFFFF_FFFF_FFFF_FFFF),
    "float32": PointType("f", None),
}

#: Types that hold no figure.
_PAD, _STRING = "pad", "string"


@dataclass(frozen=True, slots=True)
class Point:
    """A point as its model defines it; `offset` counts from the id, or from its group's start."""

    name: str
    type: str
    size: int
    scale: str | None
    unit: str
    offset: int
    names: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Repeating:
    """A group of points that repeats. `count` names the point that counts it, if any does."""

    name: str
    count: str | None
    points: Mapping[str, Point]

    @property
    def size(self) -> int:
        return sum(point.size for point in self.points.values())


@dataclass(frozen=True, slots=True)
class Model:
    """A model as it is defined. `size` counts the points that do not repeat, header included."""

    id: int
    name: str
    points: Mapping[str, Point]
    group: Repeating | None = None

    @property
    def size(self) -> int:
        return sum(point.size for point in self.points.values())

    def repeats(self, length: int, told: Value) -> int:
        """How often the group stands in a model of this length (as its header states it).

        `told` is the count that the device gives, which may be less than what fits, never more.
        """
        if self.group is None:
            return 0
        fits = max(0, length + HEADER - self.size) // self.group.size
        return min(fits, told) if self.group.count and isinstance(told, int) else fits


@dataclass(frozen=True, slots=True)
class Placed:
    """A point at its place in a model of a device: offset from the id, number of its group from 1
    (0 for a point that does not repeat)."""

    point: Point
    offset: int
    group: int = 0

    @property
    def end(self) -> int:
        return self.offset + self.point.size


@dataclass(frozen=True, slots=True)
class Values:
    """What a model holds at one moment; points whose registers are missing are not in it."""

    points: Mapping[str, Value]
    groups: tuple[Mapping[str, Value], ...] = ()

    def at(self, name: str, group: int = 0) -> Value:
        """A value, None where it is not implemented, not sized or not there."""
        if group > len(self.groups):
            return None
        return (self.groups[group - 1] if group else self.points).get(name)


def placed(model: Model, length: int, told: Value = None) -> Iterator[Placed]:
    """Every point that lies whole inside a model of this length."""
    end = length + HEADER
    for point in model.points.values():
        if point.offset + point.size <= end:
            yield Placed(point, point.offset)
    if model.group is None:
        return
    for number in range(1, model.repeats(length, told) + 1):
        start = model.size + (number - 1) * model.group.size
        for point in model.group.points.values():
            yield Placed(point, start + point.offset, number)


def decode(model: Model, length: int, words: Words) -> Values:
    """All values of a model, scaled."""
    told = _count_of(model, words)
    fixed: dict[str, Value] = {}
    groups: list[dict[str, Value]] = [{} for _ in range(model.repeats(length, told))]
    for place in placed(model, length, told):
        if place.point.type != _PAD and all(at in words for at in range(place.offset, place.end)):
            values = groups[place.group - 1] if place.group else fixed
            values[place.point.name] = _raw(place.point, place.offset, words)
    powers = dict(fixed)
    for points, values in ((model.points, fixed), *_grouped(model, groups)):
        for name, value in values.items():
            scale = points[name].scale
            if scale is not None:
                values[name] = _scaled(value, powers.get(scale))
    return Values(fixed, tuple(groups))


def _count_of(model: Model, words: Words) -> Value:
    """What the device says of the number of its groups, None where it does not say."""
    if model.group is None or model.group.count is None:
        return None
    point = model.points[model.group.count]
    return _raw(point, point.offset, words)


def _grouped(
    model: Model, groups: list[dict[str, Value]]
) -> Iterator[tuple[Mapping[str, Point], dict[str, Value]]]:
    if model.group is not None:
        for values in groups:
            yield model.group.points, values


def _raw(point: Point, start: int, words: Words) -> Value:
    """The number or text in these registers, None for "not implemented"."""
    found = [words.get(at) for at in range(start, start + point.size)]
    known = [word for word in found if word is not None]
    if len(known) < point.size:
        return None
    data = struct.pack(f">{point.size}H", *known)
    if point.type == _STRING:
        return _text(data)
    kind = TYPES[point.type]
    number: int | float = struct.unpack(">" + kind.code, data)[0]
    absent = math.isnan(number) if kind.absent is None else number == kind.absent
    return None if absent else number


def _text(data: bytes) -> str | None:
    """Text up to the first NUL, with nothing in it that could upset a terminal."""
    text = data.split(b"\0", 1)[0].decode("utf-8", errors="replace")
    return "".join(c if c.isprintable() else "?" for c in text).strip() or None


def _scaled(value: Value, power: Value) -> Value:
    """Raw number times a power of ten, rounded once; None where either is missing."""
    if not isinstance(value, int) or not isinstance(power, int):
        return None
    if not SCALE_BOUNDS[0] <= power <= SCALE_BOUNDS[1]:
        return None
    return value * int(10**power) if power >= 0 else value / int(10**-power)


@functools.cache
def models() -> Mapping[int, Model]:
    """The definitions by their id; read once, when first asked for."""
    text = (resources.files("adapters.sunspec") / "models.json").read_text("utf-8")
    return {row["id"]: _model(row) for row in json.loads(text)["models"]}


def _model(row: Mapping[str, Any]) -> Model:
    inner = row.get("group")
    group = None
    if inner is not None:
        count = inner["count"] if isinstance(inner["count"], str) else None
        group = Repeating(inner["name"], count, dict(_points(inner["points"])))
    return Model(row["id"], row["name"], dict(_points(row["points"])), group)


def _points(rows: list[list[Any]]) -> Iterator[tuple[str, Point]]:
    offset = 0
    for name, kind, size, scale, unit, *names in rows:
        known = {int(code): word for code, word in names[0].items()} if names else {}
        yield name, Point(name, kind, size, scale, unit, offset, known)
        offset += size
