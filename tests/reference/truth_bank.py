"""The bank of a truth capture as a bank file: what its JSON says is public, nothing of its truth.

    python tests/reference/truth_bank.py c01_three_stage_12v_flooded.json bank.toml

so that the scorer can run the program itself (it puts its words into one shell command):

    score.py --run "python tests/reference/truth_bank.py {meta} {out}.toml &&
        ampwright replay {csv} --bank {out}.toml --table {out}" DIR
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

#: Names of set-points in the JSON, and ours.
SET_POINTS: Final = {
    "absorption": "absorption",
    "float": "float",
    "equalize": "equalize",
    "tempco_mv_per_cell": "compensation_mv_per_celsius_per_cell",
    "end_of_charge_amps": "end_of_charge_amps",
    "absorption_hours": "absorption_hours",
}


def bank_toml(public: Mapping[str, Any]) -> str:
    """The text of the bank file."""
    return "\n".join(_lines(public)) + "\n"


def _lines(public: Mapping[str, Any]) -> Iterator[str]:
    yield "[banks.house]"
    yield f'chemistry = "{public["chemistry"]}"'
    yield f"nominal_volts = {public['nominal_v']}"
    yield f"amp_hours = {public['ah_nameplate']}"
    if public.get("reserve_soc") is not None:
        yield f"lowest_soc = {public['reserve_soc']}"
    points = public.get("setpoints") or {}
    if points:
        yield ""
        yield "[banks.house.set_points]"
        for theirs, ours in SET_POINTS.items():
            if points.get(theirs) is not None:
                yield f"{ours} = {points[theirs]}"


def main() -> None:
    meta, out = map(Path, sys.argv[1:3])
    document = json.loads(meta.read_text())
    out.write_text(bank_toml(document.get("public", document)))


if __name__ == "__main__":
    main()
