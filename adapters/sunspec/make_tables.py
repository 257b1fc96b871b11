"""Make `models.json` from the published SunSpec model files.

    python -m adapters.sunspec.make_tables [FOLDER]

FOLDER holds `model_1.json` and so on, as published in the project sunspec/models; left out, it is
that of the package pysunspec2, which ships them. Only what decoding needs is kept: name, type,
size, scale factor, unit and enumeration of every point, one row each. The licence stands in
`NOTICE` beside the table.
"""

from __future__ import annotations

import importlib.util
import json
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

#: Models that say something of a bank, of what charges it, or of its AC side; 1 says who it is.
CARRIED: Final = (
    1, 101, 102, 103, 111, 112, 113, 124, 160, 404, 501, 502, 701, 713, 714, 802, 803, 804, 805,
)  # fmt: skip

TABLE: Final = Path(__file__).with_name("models.json")

#: Enumerations are kept for these; the bits of a bitfield are not read by anybody here.
_NAMED: Final = frozenset({"enum16", "enum32"})


def table_text(folder: Path) -> str:
    """The whole table as text: a row for each point, so that a change shows in a diff."""
    models = ",\n".join(_model(folder, number) for number in CARRIED)
    notice = "Made by make_tables.py from the SunSpec models; licence: NOTICE in this folder."
    return f'{{"notice": {json.dumps(notice)},\n"models": [\n{models}\n]}}\n'


def _model(folder: Path, number: int) -> str:
    file = folder / f"model_{number}.json"
    definition = json.loads(file.read_text("utf-8"))
    group = definition["group"]
    inner = group.get("groups", [])
    if len(inner) > 1 or any(each.get("groups") for each in inner):
        raise ValueError(f"{file}: one repeating group at most can be read; found more")
    names = {point["name"] for point in group["points"]}
    if not {p["sf"] for g in (group, *inner) for p in g["points"] if "sf" in p} <= names:
        raise ValueError(f"{file}: every scale factor must be a point of the model itself")
    rows = f'"points": [\n{_rows(group)}\n]'
    if inner:
        count = json.dumps(inner[0]["count"])
        name = json.dumps(inner[0]["name"])
        rows += (
            f',\n"group": {{"name": {name}, "count": {count}, "points": [\n{_rows(inner[0])}\n]}}'
        )
    return f'{{"id": {definition["id"]}, "name": {json.dumps(group["name"])}, {rows}}}'


def _rows(group: Mapping[str, Any]) -> str:
    return ",\n".join(json.dumps(list(_row(point))) for point in group["points"])


def _row(point: Mapping[str, Any]) -> Iterator[object]:
    """Name, type, registers, scale factor, unit; and code to name where there are names."""
    yield point["name"]
    yield point["type"]
    yield point["size"]
    yield point.get("sf")
    yield point.get("units", "").strip()
    if point["type"] in _NAMED and point.get("symbols"):
        yield {str(symbol["value"]): symbol["name"] for symbol in point["symbols"]}


def published() -> Path:
    """The folder of the model files that pysunspec2 ships."""
    found = importlib.util.find_spec("sunspec2")
    if found is None or found.origin is None:
        raise SystemExit("no model files: name their folder, or install pysunspec2")
    return Path(found.origin).parent / "models" / "json"


if __name__ == "__main__":
    TABLE.write_text(table_text(Path(sys.argv[1]) if len(sys.argv) > 1 else published()), "utf-8")
