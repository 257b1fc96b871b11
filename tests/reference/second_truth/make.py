"""Make the second truth: captures from PyBaMM (LFP) and NREL-PySAM (kinetic lead-acid).

    python -m tests.reference.second_truth.make [OUTDIR] [NAME ...]

Needs pybamm and NREL-PySAM in the versions of README.md, which the tests do not: the results are
frozen beside this script. Same columns, same conventions and same scorer as the first truth.
"""

from __future__ import annotations

import csv
import gzip
import io
import itertools
import json
import random
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

SECONDS = 10
HERE = Path(__file__).parent
END_OF_CHARGE = {"flooded": 0.015, "agm": 0.005, "lfp": 0.03}  # of the amp-hours, see README


@dataclass(frozen=True)
class Plan:
    """One capture. Times in hours; loads are (from, to, amps), shore is (from, to)."""

    chemistry: str
    nominal_volts: int
    amp_hours: float
    soc: float
    celsius: float
    hours: float
    rated_amps: float
    absorption: float
    float_volts: float
    end_amps: float | None
    timer_hours: float | None
    shore: tuple[tuple[float, float], ...]
    loads: tuple[tuple[float, float, float], ...]
    milliohms_per_cell: float
    gas: float = 0.0005
    noise_amps: float = 0.08
    offset_amps: float = 0.0
    cycling: tuple[float, float, float] = (0.0, 1.0, 0.0)  # amps, period and on-time in minutes
    note: str = ""


PLANS = {
    "k01_flooded_12v": Plan(
        "flooded", 12, 210, 0.52, 22, 40, 42, 14.5, 13.4, 4.2, None,
        ((1.0, 18.0), (28.0, 40.0)), ((19.0, 27.5, 11.0), (5.0, 5.6, 20.0)), 0.6,
        note="kinetic lead-acid, three stages by end current",
    ),
    "k02_agm_24v_timer": Plan(
        "agm", 24, 160, 0.45, 16, 36, 30, 28.7, 27.1, None, 5.0,
        ((1.0, 14.0), (24.0, 36.0)), ((15.0, 23.0, 7.0),), 0.8, gas=0.0002,
        note="kinetic lead-acid, absorption ended by a timer",
    ),
    "k03_flooded_12v_loads": Plan(
        "flooded", 12, 330, 0.60, 27, 44, 55, 14.6, 13.35, 5.5, None,
        ((2.0, 16.0), (26.0, 30.0), (31.0, 44.0)), ((17.0, 25.5, 16.0), (9.0, 9.3, 40.0)),
        0.4, offset_amps=-0.2, cycling=(5.0, 45.0, 15.0),
        note="kinetic lead-acid, a cycling load in every stage, shore power lost for an hour",
    ),
    "k04_lfp_12v": Plan(
        "lfp", 12, 150, 0.32, 20, 36, 45, 14.2, 13.5, 5.0, None,
        ((1.5, 12.0), (24.0, 36.0)), ((13.0, 23.0, 9.0), (3.0, 3.2, 15.0), (0.0, 36.0, 1.1)), 0.6,
        note="single-particle LFP, absorption of minutes, then float",
    ),
    "k05_lfp_24v_cycling": Plan(
        "lfp", 24, 230, 0.55, 24, 40, 50, 28.0, 26.9, 8.0, None,
        ((2.0, 10.0), (22.0, 40.0)), ((11.0, 21.0, 14.0), (0.0, 40.0, 1.6)), 0.5,
        cycling=(6.0, 40.0, 14.0),
        note="single-particle LFP with a cycling load",
    ),
}  # fmt: skip


class Charger:
    """Bulk, absorption, float: the state machine of a plain three-stage charger."""

    def __init__(self, plan: Plan) -> None:
        self.plan, self.stage, self.held, self.below = plan, "bulk", 0.0, 0.0

    def start(self) -> None:
        self.stage, self.held, self.below = "bulk", 0.0, 0.0

    @property
    def volts(self) -> float:
        return self.plan.float_volts if self.stage == "float" else self.plan.absorption

    def after(self, net_amps: float, source_amps: float, volts: float) -> None:
        """Move on after one step: net current, the charger's own, and volts at the posts."""
        plan = self.plan
        limited = source_amps >= plan.rated_amps - 1e-9
        if self.stage == "bulk" and not limited:
            self.stage = "absorption"
        elif self.stage == "absorption":
            if limited and self.held < 60:
                self.stage = "bulk"
            self.held += SECONDS
            ended = (
                plan.end_amps is not None
                and net_amps <= plan.end_amps
                and volts > self.volts - 0.05
            )
            self.below = self.below + SECONDS if ended else 0.0
            if self.below >= 60 or (plan.timer_hours and self.held >= 3600 * plan.timer_hours):
                self.stage = "float"


def bank_of(plan: Plan) -> Any:
    cells = plan.nominal_volts // 12 * (4 if plan.chemistry == "lfp" else 6)
    if plan.chemistry == "lfp":
        from tests.reference.second_truth.lfp import LfpBank

        return LfpBank(
            cells, plan.amp_hours, plan.soc, plan.celsius, plan.milliohms_per_cell, SECONDS
        )
    from tests.reference.second_truth.lead import LeadBank

    return LeadBank(
        cells, plan.amp_hours, plan.soc, plan.celsius, plan.milliohms_per_cell, plan.gas, SECONDS
    )


def load_amps(plan: Plan, hours: float) -> float:
    amps, period, on = plan.cycling
    steady = sum(a for start, end, a in plan.loads if start <= hours < end)
    return steady + (amps if (hours * 60) % period < on else 0.0)


def simulate(plan: Plan) -> list[tuple[float, float, float, float, float, str, int]]:
    """Rows of (seconds, volts, amps, celsius, soc, stage, ambiguous), before the sensors."""
    bank, charger, rows, on_before = bank_of(plan), Charger(plan), [], False
    bank.step(0.0)
    for n in range(int(plan.hours * 3600 / SECONDS)):
        hours = n * SECONDS / 3600
        load = load_amps(plan, hours)
        on = any(start <= hours < end for start, end in plan.shore)
        if on and not on_before:
            charger.start()
        on_before = on
        soc, ambiguous = bank.soc, 0
        if on:
            amps = bank.amps_to_hold(charger.volts, -load, plan.rated_amps - load)
            volts = bank.step(amps)
            stage = charger.stage
            if stage == "bulk" and amps < -0.002 * plan.amp_hours:
                stage, ambiguous = "discharge", 1
            if stage in ("absorption", "float"):
                short = amps + load >= plan.rated_amps - 1e-9 and volts < charger.volts - 0.05
                ambiguous = int(short or volts > charger.volts + 0.05)
            charger.after(amps, amps + load, volts)
        else:
            volts = bank.step(-load)
            amps, stage = -load, "discharge" if load else "rest"
        rows.append((float(n * SECONDS), volts, amps, bank.celsius, soc, stage, ambiguous))
    return rows


def charges(rows: list[Any], plan: Plan) -> list[dict[str, Any]]:
    """Start, state of charge at the start, and the moment of full, by the first truth's rules."""
    full_amps = END_OF_CHARGE[plan.chemistry] * plan.amp_hours
    found: list[dict[str, Any]] = []
    open_, below, before = False, 0.0, ""
    for seconds, _, amps, _, soc, stage, ambiguous in rows:
        charging = stage in ("bulk", "absorption")
        if not open_ and charging and amps > 0.005 * plan.amp_hours:
            found.append({"start_s": seconds, "soc_start": round(soc, 4), "full_s": None})
            open_, below = True, 0.0
        if open_ and (stage == "rest" or (stage == "discharge" and not ambiguous)):
            open_ = False
        if open_ and found[-1]["full_s"] is None:
            below = below + SECONDS if stage == "absorption" and amps <= full_amps else 0.0
            if below >= 60 or (stage == "float" and before == "absorption"):
                found[-1]["full_s"] = seconds
        before = stage
    return found


def write(name: str, plan: Plan, folder: Path) -> None:
    rows = simulate(plan)
    dice = random.Random(name)
    text = io.StringIO()
    out = csv.writer(text, lineterminator="\n")
    out.writerow(["t_s", "v_bank", "i_net", "temp_c", "soc_true", "stage_true", "amb"])
    noise_volts = 0.007 * plan.nominal_volts / 12
    for seconds, volts, amps, celsius, soc, stage, ambiguous in rows:
        shown_amps = amps + plan.offset_amps + dice.gauss(0, plan.noise_amps)
        out.writerow(
            [
                f"{seconds:.0f}",
                f"{volts + dice.gauss(0, noise_volts):.2f}",
                f"{shown_amps:.1f}",
                f"{round(2 * (celsius + dice.gauss(0, 0.15))) / 2:.1f}",
                f"{soc:.5f}",
                stage,
                ambiguous,
            ]
        )
    with (
        (folder / f"{name}.csv.gz").open("wb") as raw,
        gzip.GzipFile(fileobj=raw, mode="wb", mtime=0, filename="") as packed,
    ):
        packed.write(text.getvalue().encode())
    points: dict[str, Any] = {
        "absorption": plan.absorption,
        "float": plan.float_volts,
        "tempco_mv_per_cell": 0,
    }
    if plan.end_amps is not None:
        points["end_of_charge_amps"] = plan.end_amps
    if plan.timer_hours is not None:
        points["absorption_hours"] = plan.timer_hours
    changes = [
        [now[0], before[5], now[5]]
        for before, now in itertools.pairwise(rows)
        if before[5] != now[5]
    ]
    cells = plan.nominal_volts // 12 * (4 if plan.chemistry == "lfp" else 6)
    record = {
        "public": {
            "chemistry": plan.chemistry,
            "nominal_v": plan.nominal_volts,
            "cells_in_series": cells,
            "ah_nameplate": plan.amp_hours,
            "setpoints": points,
            "shunt_positive": "charging",
            "full_current_a": round(END_OF_CHARGE[plan.chemistry] * plan.amp_hours, 2),
        },
        "truth": {
            "model": "PyBaMM SPM Prada2013"
            if plan.chemistry == "lfp"
            else "NREL-PySAM BatteryStateful, kinetic lead-acid",
            "ah_true": plan.amp_hours,
            "note": plan.note,
            "faults": [],
            "charges": charges(rows, plan),
            "transitions": changes,
        },
    }
    (folder / f"{name}.json").write_text(json.dumps(record, indent=1) + "\n")
    print(name, len(rows), "rows,", record["truth"]["charges"])


def main() -> None:
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE
    folder.mkdir(parents=True, exist_ok=True)
    for name in sys.argv[2:] or PLANS:
        write(name, PLANS[name], folder)


if __name__ == "__main__":
    main()
