"""The truth captures as a site and readings, for tests of the whole engine."""

from __future__ import annotations

import csv
import gzip
import json
from functools import lru_cache
from pathlib import Path
from typing import Any

from adapters.reading import Reading
from monitor.bank import Bank, Link, SetPoints, Site, Source, SourceKind
from monitor.chemistries import CHEMISTRIES
from tests.monitor.engine.sites import AMPS, CELSIUS, SHORE_VOLTS, VOLTS

TRUTH = Path(__file__).parents[2] / "reference" / "truth"
COLUMNS = {"v_bank": VOLTS, "i_net": AMPS, "temp_c": CELSIUS, "v_source": SHORE_VOLTS}


@lru_cache(maxsize=2)
def capture(name: str) -> tuple[dict[str, Any], Site, tuple[Reading, ...]]:
    """The description, the site it makes, and every row as a reading of one shunt."""
    folder = TRUTH / "faults" if name.startswith("g") else TRUTH
    path = next(folder.glob(f"{name}*.csv.gz"))
    about = json.loads(path.with_name(path.name.removesuffix(".csv.gz") + ".json").read_text())
    with gzip.open(path, "rt", newline="") as text:
        rows = csv.reader(text)
        head = next(rows)
        places = [(COLUMNS[column], n) for n, column in enumerate(head) if column in COLUMNS]
        readings = tuple(
            Reading(
                float(row[0]),
                "shunt",
                tuple((channel, float(row[n])) for channel, n in places if row[n]),
            )
            for row in rows
        )
    sources = (Source("shore", "house", SourceKind.AC_CHARGER),) if "v_source" in head else ()
    return about, Site((_bank(about["public"]),), sources, (Link("shunt", 5.0),)), readings


def _bank(public: dict[str, Any]) -> Bank:
    given = public["setpoints"] or {}
    return Bank(
        "house",
        CHEMISTRIES[public["chemistry"]],
        public["nominal_v"],
        float(public["ah_nameplate"]),
        lowest_soc=public.get("reserve_soc"),
        set_points=SetPoints(
            absorption=given.get("absorption"),
            float_=given.get("float"),
            equalize=given.get("equalize"),
            compensation_mv_per_celsius_per_cell=given.get("tempco_mv_per_cell"),
            end_of_charge_amps=given.get("end_of_charge_amps"),
            absorption_hours=given.get("absorption_hours"),
        ),
    )
