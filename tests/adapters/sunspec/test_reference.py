"""Against pysunspec2, the reference: the same registers read by both give the same values."""

from __future__ import annotations

import math
import struct
from pathlib import Path
from random import Random
from typing import Any

import pytest
from sunspec2.modbus.client import SunSpecModbusClientDevice

from adapters.modbus_link import Refused
from adapters.sunspec import make_tables
from adapters.sunspec.models import Value, Values, decode, models, placed
from adapters.sunspec.walk import find_map
from tests.adapters.sunspec.images import definition, device_image, model_words, random_model

CARRIED = sorted(models())


class Reference(SunSpecModbusClientDevice):
    """pysunspec2 on a register image in place of a wire."""

    def __init__(self, image: dict[int, int]) -> None:
        super().__init__()
        self._image = image

    def read(self, addr: int, count: int) -> bytes:
        try:
            words = [self._image[int(addr) + at] for at in range(int(count))]
        except KeyError:
            raise OSError("no such register") from None
        return struct.pack(f">{len(words)}H", *words)


async def ours(image: dict[int, int]) -> list[tuple[int, Values]]:
    async def read(address: int, count: int) -> list[int]:
        try:
            return [image[address + at] for at in range(count)]
        except KeyError:
            raise Refused(2) from None

    found_map = await find_map(read)
    assert found_map.trouble == ""
    return [
        (
            found.id,
            decode(
                models()[found.id],
                found.length,
                {at: image[found.address + at] for at in range(found.length + 2)},
            ),
        )
        for found in found_map.models
    ]


def same(here: Value, there: Any) -> bool:
    if isinstance(there, str):
        return here == there.strip()
    if there is None or here is None:
        return here is there
    # The reference multiplies by a float power of ten and rounds; both are the same double but for
    # whole numbers beyond 2^53.
    return math.isclose(here, there, rel_tol=1e-12)


def compared(here: Values, there: dict[str, Any], number: int) -> list[tuple[str, Value, Any]]:
    """Every point of the definition with our value and theirs."""
    group = definition(number)
    rows = [(p["name"], here.at(p["name"]), there[p["name"]]) for p in _figures(group)]
    for inner in group.get("groups", []):
        groups = there.get(inner["name"], [])
        assert len(here.groups) == len(groups)
        rows += [
            (f"{index} {p['name']}", here.at(p["name"], index), values[p["name"]])
            for index, values in enumerate(groups, start=1)
            for p in _figures(inner)
        ]
    return rows


def _figures(group: Any) -> list[Any]:
    return [point for point in group["points"] if point["type"] != "pad"]


@pytest.mark.parametrize("seed", range(40))
async def test_random_images_are_read_alike(seed: int) -> None:
    """Every model at least once, some several times, in any order, at any base."""
    random = Random(seed)
    numbers = [number for number in CARRIED if number != 1]
    numbers += random.choices(numbers, k=6)
    random.shuffle(numbers)
    image = device_image(
        *(random_model(random, number) for number in (1, *numbers)),
        base=random.choice([40_000, 0, 50_000]),
    )
    reference = Reference(image)
    reference.scan()
    read = await ours(image)
    assert [number for number, _ in read] == [1, *numbers]
    assert [model.model_id for model in reference.model_list] == [1, *numbers]
    figures = 0
    for (number, values), model in zip(read, reference.model_list, strict=True):
        rows = compared(values, model.get_dict(computed=True), number)
        assert [row for row in rows if not same(row[1], row[2])] == [], number
        figures += sum(row[1] is not None for row in rows)
    assert figures > 500


async def test_the_common_model_without_its_pad() -> None:
    words = model_words(1, {"Mn": "Pinewater", "SN": "7", "DA": 3})[:-1]
    words[1] = 65
    image = device_image(words, model_words(713, {"SoC": 500, "Pct_SF": -1}))
    reference = Reference(image)
    reference.scan()
    (_, common), (_, storage) = await ours(image)
    assert common.at("DA") == reference.common[0].DA.value == 3
    assert storage.at("SoC") == reference.DERStorageCapacity[0].SoC.cvalue == 50.0


async def test_a_shortened_model_has_fewer_points() -> None:
    words = model_words(802, {"V": 1342, "V_SF": -2, "SoC": 80, "SoC_SF": 0})[:61]
    words[1] = len(words) - 2
    image = device_image(words)
    reference = Reference(image)
    reference.scan()
    ((_, values),) = await ours(image)
    assert values.at("V") == reference.battery[0].V.cvalue == 13.42
    assert values.at("A_SF") is None
    assert "A_SF" not in values.points


async def test_a_number_without_its_scale_has_no_value() -> None:
    """Here the reference gives the raw number (1342 V): a guess, and not ours to make."""
    image = device_image(model_words(802, {"V": 1342, "SoC": 80, "SoC_SF": 11}))
    reference = Reference(image)
    reference.scan()
    ((_, values),) = await ours(image)
    assert reference.battery[0].V.cvalue == 1342
    assert values.at("V") is None
    assert values.at("SoC") is None  # a scale outside -10..10 is none


@pytest.mark.parametrize("number", CARRIED)
def test_points_stand_where_the_reference_puts_them(number: int) -> None:
    """Offsets and sizes alone, with two groups where there are any."""
    group = definition(number)
    words = model_words(number, {}, [{}, {}] if group.get("groups") else [])
    count = group.get("groups", [{}])[0].get("count")
    if isinstance(count, str):
        words = model_words(number, {count: 2}, [{}, {}])
    image = device_image(words)
    reference = Reference(image)
    reference.scan()
    (model,) = reference.model_list
    theirs = [(p.pdef["name"], p.offset, p.len) for p in model.points.values()]
    for groups in model.groups.values():
        theirs += [(p.pdef["name"], p.offset, p.len) for g in groups for p in g.points.values()]
    told = 2 if isinstance(count, str) else None
    mine = [
        (p.point.name, p.offset, p.point.size)
        for p in placed(models()[number], len(words) - 2, told)
    ]
    assert mine == theirs


def test_enumerations_are_those_of_the_files() -> None:
    for number in CARRIED:
        group = definition(number)
        inner = group.get("groups", [])
        points = dict(models()[number].points)
        if inner:
            points |= models()[number].group.points  # type: ignore[union-attr]
        for point in (p for g in (group, *inner) for p in g["points"]):
            if point["type"].startswith("enum") and not (inner and point["name"] == "ID"):
                named = {s["value"]: s["name"] for s in point.get("symbols", [])}
                assert dict(points[point["name"]].names) == named


def test_the_table_is_what_the_script_makes() -> None:
    assert make_tables.TABLE.read_text() == make_tables.table_text(make_tables.published())
    notice = (Path(make_tables.__file__).parent / "NOTICE").read_text()
    assert "Apache License, Version 2.0" in notice
    assert "SunSpec Alliance" in notice
