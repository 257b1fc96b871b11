"""What the engine and the naive method say of a truth capture, in the scorer's form."""

from __future__ import annotations

import csv
import gzip
import importlib.util
import json
import math
import time
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any, Final

from adapters.reading import Channel, Quantity, Reading
from monitor.bank import Site, Source, SourceKind
from monitor.config import parse_config
from monitor.engine.engine import Engine
from tests.reference import naive
from tests.reference.truth_bank import bank_toml

HERE: Final = Path(__file__).parent
#: The generators that made the captures, each reported by itself.
GENERATORS: Final = {"first": HERE / "truth", "second": HERE / "second_truth"}

NUMBERS: Final = {
    "v_bank": Channel("house", Quantity.BANK_VOLTS),
    "i_net": Channel("house", Quantity.BANK_AMPS),
    "temp_c": Channel("house", Quantity.BANK_CELSIUS),
    "v_source": Channel("source", Quantity.SOURCE_VOLTS),
}

Columns = dict[str, list[Any]]


@cache
def scorer() -> ModuleType:
    """The scorer that came with the first truth; it needs numpy, nothing else here does."""
    spec = importlib.util.spec_from_file_location("truth_score", HERE / "truth" / "score.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def public_of(path: Path, hide: bool) -> dict[str, Any]:
    """What a predictor may know of the bank, less its set-points where they are hidden."""
    document = json.loads(Path(str(path).removesuffix(".csv.gz") + ".json").read_text())
    public: dict[str, Any] = document["public"]
    return scorer().hidden(public) if hide else public  # type: ignore[no-any-return]


def site_of(public: dict[str, Any], with_source: bool) -> Site:
    site = parse_config(bank_toml(public), "bank.toml").site
    if not with_source:
        return site
    return Site(site.banks, (Source("source", "house", SourceKind.AC_CHARGER),), site.links)


def readings_of(path: Path) -> list[Reading]:
    """The capture as the engine gets it: empty cells are left out."""
    with gzip.open(path, "rt", newline="") as text:
        rows = list(csv.DictReader(text))
    readings = []
    for row in rows:
        values = []
        for name, channel in NUMBERS.items():
            cell = row.get(name)
            if cell:
                figure = float(cell)
                if math.isfinite(figure):
                    values.append((channel, figure))
        readings.append(Reading(float(row["t_s"]), "csv", tuple(values)))
    return readings


@dataclass
class Said:
    """Predictions as columns for the scorer, with what the engine learned and what it cost."""

    columns: Columns
    amp_hours: float | None = None
    readings: int = 0
    seconds: float = 0.0
    events: list[Any] = field(default_factory=list)


def engine_says(path: Path, hide: bool) -> Said:
    """The engine's own words for every reading of one capture."""
    readings = readings_of(path)
    with_source = any(channel.owner == "source" for channel, _ in readings[0].values)
    engine = Engine(site_of(public_of(path, hide), with_source))
    names = ("t_s", "stage", "soc", "soc_sd", "ttf_s", "ttf_lo_s", "ttf_hi_s")
    columns: Columns = {name: [] for name in names}
    said = Said(columns, readings=len(readings))
    spent = 0.0
    for reading in readings:
        before = time.perf_counter()
        said.events.extend(engine.step(reading))
        spent += time.perf_counter() - before
        glance = engine.glance("house")
        row = (
            reading.seconds,
            glance.stage.value if glance.stage is not None else "none",
            glance.soc,
            glance.soc_sd,
            glance.to_full,
            glance.to_full_low,
            glance.to_full_high,
        )
        for name, value in zip(names, row, strict=True):
            columns[name].append("" if value is None else value)
    said.seconds = spent
    said.amp_hours = engine.snapshot().banks[0].charge.capacity_amp_hours.figure
    return said


def naive_says(path: Path, hide: bool) -> Said:
    rows = []
    for reading in readings_of(path):
        values = {channel.quantity: value for channel, value in reading.values}
        rows.append(
            (
                reading.seconds,
                values.get(Quantity.BANK_VOLTS),
                values.get(Quantity.BANK_AMPS),
                values.get(Quantity.BANK_CELSIUS),
            )
        )
    columns: Columns = {name: [] for name in ("t_s", "stage", "soc", "ttf_s")}
    for row in naive.predict(public_of(path, hide), rows):  # type: ignore[arg-type]
        for name, value in zip(columns, row, strict=True):
            columns[name].append("" if value is None else value)
    return Said(columns)
