"""Register images of SunSpec devices, written from the published model files.

It shares nothing with the reader under test: definitions are read from the files that pysunspec2
ships, registers are packed with `struct`.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Mapping, Sequence
from pathlib import Path
from random import Random
from typing import Any

import sunspec2

FILES = Path(sunspec2.__file__).parent / "models" / "json"

#: Format and "not implemented", from the SunSpec information model specification.
CODES = {
    "int16": ("h", 0x8000), "uint16": ("H", 0xFFFF), "count": ("H", 0xFFFF),
    "enum16": ("H", 0xFFFF), "bitfield16": ("H", 0xFFFF), "sunssf": ("h", 0x8000),
    "int32": ("i", 0x80000000), "uint32": ("I", 0xFFFFFFFF), "enum32": ("I", 0xFFFFFFFF),
    "bitfield32": ("I", 0xFFFFFFFF), "acc32": ("I", 0), "uint64": ("Q", 0xFFFFFFFFFFFFFFFF),
    "float32": ("f", 0x7FC00000), "pad": ("H", 0x8000),
}  # fmt: skip

Given = Mapping[str, float | str | None]


def definition(number: int) -> Any:
    return json.loads((FILES / f"model_{number}.json").read_text())["group"]


def words_of(data: bytes) -> list[int]:
    return list(struct.unpack(f">{len(data) // 2}H", data))


def _absent(kind: str, size: int) -> list[int]:
    if kind == "string":
        return [0] * size
    return words_of(CODES[kind][1].to_bytes(2 * size, "big"))


def point_words(point: Mapping[str, Any], value: float | str | None) -> list[int]:
    """The registers of a raw value; None is "not implemented"."""
    kind, size = point["type"], point["size"]
    if value is None:
        return _absent(kind, size)
    if isinstance(value, str):
        return words_of(value.encode().ljust(2 * size, b"\0"))
    return words_of(struct.pack(">" + CODES[kind][0], value))


def model_words(number: int, given: Given, groups: Sequence[Given] = ()) -> list[int]:
    """A whole model; points that are not given are not implemented."""
    group = definition(number)
    words: list[int] = []
    for point in group["points"]:
        words += point_words(point, given.get(point["name"]))
    for each in groups:
        for point in group["groups"][0]["points"]:
            words += point_words(point, each.get(point["name"]))
    words[0], words[1] = number, len(words) - 2
    return words


def device_image(
    *models: Sequence[int], base: int = 40_000, end: Sequence[int] = (0xFFFF, 0)
) -> dict[int, int]:
    """Marker, models and end as a device holds them: address to word."""
    words = [0x5375, 0x6E53]
    for model in models:
        words += model
    words += end
    return {base + at: word for at, word in enumerate(words)}


def random_value(random: Random, point: Mapping[str, Any]) -> float | str | None:
    """Any raw value that a point can hold, "not implemented" one time in five."""
    kind, size = point["type"], point["size"]
    if kind == "pad" or random.random() < 0.2:
        return None
    if kind == "sunssf":
        return random.randint(-10, 10)
    if kind == "string":
        letters = "ABCdef 123-äß"
        text = "".join(random.choice(letters) for _ in range(random.randint(1, size)))
        return text.strip() or "x"
    if kind == "float32":
        return struct.unpack(">f", struct.pack(">f", random.uniform(-1e5, 1e5)))[0]
    code = CODES[kind][0]
    bits = 16 * size
    if code.islower():
        return random.randint(1 - (1 << bits - 1), (1 << bits - 1) - 1)
    return random.randint(1 if kind == "acc32" else 0, (1 << bits) - 2)


def random_model(random: Random, number: int) -> list[int]:
    """A model with random points and, where it repeats, a random number of groups."""
    group = definition(number)
    inner = group.get("groups", [])
    count = random.randint(0, 3) if inner else 0
    # Every point that has a size has a scale factor: without one the reference gives the raw
    # number, which is a guess (see test_reference).
    used = {p.get("sf") for g in (group, *inner) for p in g["points"]}
    given = {p["name"]: random_value(random, p) for p in group["points"]}
    for name in used & given.keys():
        given[name] = random.randint(-10, 10)
    if inner and isinstance(inner[0]["count"], str):
        given[inner[0]["count"]] = count
    groups = [
        {p["name"]: random_value(random, p) for p in inner[0]["points"]} for _ in range(count)
    ]
    return model_words(number, given, groups)


#: A battery as one might stand in a coach: 13.42 V, 25.3 A of a sign that nobody told, 87.3 %.
COMMON = {"Mn": "Pinewater", "Md": "Bank 4", "Vr": "1.2", "SN": "0007"}
BATTERY = {
    "V": 1342, "V_SF": -2, "A": -253, "A_SF": -1, "SoC": 873, "SoC_SF": -1, "CellVMax": 3361,
    "CellVMin": 3349, "CellV_SF": -3, "State": 3, "ChaSt": 4, "Typ": 4, "Hb": 17,
}  # fmt: skip
