"""Score the engine and the naive method against known truth: one command, one set of tables.

    python -m tests.reference.score [--quick] [--only PART-OF-NAME] [--md FILE]

The naive method's figures are those published with the first truth (set-points given), elsewhere
those of `naive.py`. Both generators of truth, each with set-points given and hidden; per capture
and pooled, the worst capture named; at the end the targets, what was reached, and the engine's
readings a second.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from tests.reference.predictions import GENERATORS, engine_says, naive_says, scorer

QUICK: Final = ("c01", "c08", "c17", "k04")
POINTS: Final = (25, 50, 75, 90)
WAYS: Final = ("given", "hidden")


@dataclass
class Scored:
    """One capture, one way: the scorer's results for us and for the naive method."""

    generator: str
    name: str
    way: str
    ours: dict[str, Any]
    naive: dict[str, Any]
    first: dict[str, Any]
    later: dict[str, Any]
    capacity_error: float
    aged: bool
    readings: int
    seconds: float


def score_one(job: tuple[str, Path, str]) -> Scored:
    generator, path, way = job
    hide = way == "hidden"
    truth, public, told = scorer().load_truth(str(path))
    said = engine_says(path, hide)
    ours = scorer().score_capture(truth, told, said.columns)
    naive = scorer().score_capture(truth, told, naive_says(path, hide).columns)
    first = scorer().score_capture(truth, {**told, "charges": told["charges"][:1]}, said.columns)
    later = scorer().score_capture(truth, {**told, "charges": told["charges"][1:]}, said.columns)
    aged = told["ah_true"] < 0.95 * public["ah_nameplate"]
    error = (said.amp_hours or 0.0) / told["ah_true"] - 1
    name = path.name.removesuffix(".csv.gz")
    return Scored(
        generator, name, way, ours, naive, first, later, error, aged, said.readings, said.seconds
    )


def figure(value: Any) -> str:
    return str(scorer().fmt(value))


def both(ours: Any, naive: Any) -> str:
    return f"{figure(ours)} ({figure(naive)})"


def table(head: list[str], rows: list[list[str]]) -> Iterator[str]:
    yield "| " + " | ".join(head) + " |"
    yield "|" + "---|" * len(head)
    for row in rows:
        yield "| " + " | ".join(row) + " |"
    yield ""


def rows_of(scored: list[Scored], which: str) -> dict[str, dict[str, Any]]:
    per = {one.name: getattr(one, which) for one in scored}
    return {row["capture"]: row for row in scorer().summarise(per)}


def stage_rows(name: str, us: dict[str, Any], them: dict[str, Any]) -> list[str]:
    return [
        name,
        both(us["macro_f1_clear"], them["macro_f1_clear"]),
        both(us["acc_clear"], them["acc_clear"]),
        both(us["delay_med_s"], them["delay_med_s"]),
        both(us["delay_p95_s"], them["delay_p95_s"]),
        both(us["miss"], them["miss"]),
        both(us["false_day"], them["false_day"]),
    ]


def charge_rows(name: str, us: dict[str, Any], them: dict[str, Any]) -> list[str]:
    return [
        name,
        both(us["soc_rmse"], them["soc_rmse"]),
        both(us["soc_max"], them["soc_max"]),
        both(us["soc_rmse_all"], them["soc_rmse_all"]),
        figure(us["cov_soc"]),
        figure(us["sd_med"]),
        *(both(us[f"ttf_{point}"], them[f"ttf_{point}"]) for point in POINTS),
        figure(us["cov_ttf"]),
        figure(us["ttf_w"]),
    ]


def published() -> dict[str, dict[str, float]]:
    """The naive method's figures as the first truth's README gives them, set-points given."""
    text = (GENERATORS["first"] / "README.md").read_text()
    text = text[text.index("Set-points given:") : text.index("Set-points hidden")]
    found: dict[str, dict[str, float]] = {}
    head: list[str] = []
    for line in text.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if cells[0] == "capture":
            head = cells
        elif len(cells) == len(head) and not set(line) <= set("|-"):
            row = found.setdefault(cells[0], {})
            row.update(
                {
                    name: float(cell) if cell else float("nan")
                    for name, cell in zip(head[1:], cells[1:], strict=True)
                }
            )
    return found


STAGE_HEAD: Final = [
    "capture",
    "macro F1",
    "accuracy",
    "delay, median s",
    "delay, p95 s",
    "missed",
    "false a day",
]
CHARGE_HEAD: Final = [
    "capture",
    "SOC rms after full",
    "worst",
    "rms, all",
    "within 2 sd",
    "median sd",
    *(f"to full at {point} %" for point in POINTS),
    "in interval",
    "width",
]


def report(scored: list[Scored]) -> Iterator[str]:
    for generator in GENERATORS:
        for way in WAYS:
            part = [one for one in scored if (one.generator, one.way) == (generator, way)]
            if not part:
                continue
            us, them = rows_of(part, "ours"), rows_of(part, "naive")
            if (generator, way) == ("first", "given"):
                them = {name: {**them[name], **published().get(name, {})} for name in them}
            yield f"### {generator.capitalize()} truth, set-points {way} (naive in brackets)\n"
            yield from table(STAGE_HEAD, [stage_rows(name, us[name], them[name]) for name in us])
            yield from table(CHARGE_HEAD, [charge_rows(name, us[name], them[name]) for name in us])
            yield worst(us) + "\n"
            yield from beaten(us, them)
            yield from targets(part, us)


def worst(us: dict[str, dict[str, Any]]) -> str:
    said = []
    for key, highest in (*scorer().WORST, ("ttf_25", True), ("ttf_90", True)):
        rows = [row for name, row in us.items() if name != "ALL" and row[key] == row[key]]
        if rows:
            row = (max if highest else min)(rows, key=lambda row: row[key])
            said.append(f"{key} {figure(row[key])} ({row['capture']})")
    return "Worst: " + ", ".join(said)


def beaten(us: dict[str, Any], them: dict[str, Any]) -> Iterator[str]:
    """Captures on which the naive method is better, and where it may not be."""
    faults = []
    for name, row in us.items():
        if name == "ALL":
            if row["soc_rmse_all"] >= them[name]["soc_rmse_all"]:
                faults.append("pooled SOC rms")
            continue
        if row["macro_f1_clear"] <= them[name]["macro_f1_clear"]:
            faults.append(f"macro F1 on {name}")
        ours, naive = (
            sum(
                rows[f"ttf_{point}"]
                for point in POINTS
                if rows[f"ttf_{point}"] == rows[f"ttf_{point}"]
            )
            for rows in (row, them[name])
        )
        if ours >= naive > 0:
            faults.append(f"time to full on {name}")
        if row["soc_rmse_all"] > them[name]["soc_rmse_all"] + 0.5:
            faults.append(f"SOC rms on {name} by more than half a point")
    yield "Not better than the naive method: " + (", ".join(faults) or "nowhere") + "\n"


def targets(part: list[Scored], us: dict[str, dict[str, Any]]) -> Iterator[str]:
    pooled = us.get("ALL") or next(iter(us.values()))
    given = part[0].way == "given"
    first = scorer().summarise({one.name: one.first for one in part})[-1]
    later = scorer().summarise({one.name: one.later for one in part})[-1]
    aged = [abs(one.capacity_error) for one in part if one.aged]
    speed = sum(one.readings for one in part) / sum(one.seconds for one in part)
    rows: list[tuple[str, float, float | None, float | None]] = [
        ("macro F1, clear", pooled["macro_f1_clear"], 0.97 if given else 0.95, None),
        ("delay, median s", pooled["delay_med_s"], None, 30 if given else 45),
        ("delay, p95 s", pooled["delay_p95_s"], None, 300 if given else 900),
        ("missed", pooled["miss"], None, 0.02 if given else 0.06),
        ("false a day", pooled["false_day"], None, 1),
        ("SOC rms after the first full, points", pooled["soc_rmse"], None, 1.5),
        ("SOC worst after the first full, points", pooled["soc_max"], None, 5),
        ("SOC rms, whole capture, points", pooled["soc_rmse_all"], None, 3),
        ("truth within 2 sd", pooled["cov_soc"], 0.92, 0.99),
        ("truth inside the interval", pooled["cov_ttf"], 0.85, 0.97),
    ]
    if aged:
        rows.append(("aged capacity, worst error", max(aged), None, 0.07))
    for limit, point in zip((0.20, 0.15, 0.15, 0.20), POINTS, strict=True):
        rows.append((f"to full, first charge at {point} %", first[f"ttf_{point}"], None, limit))
    for limit, point in zip((0.12, 0.10, 0.10, 0.15), POINTS, strict=True):
        rows.append((f"to full, later charges at {point} %", later[f"ttf_{point}"], None, limit))
    rows.extend(
        (f"bias, later charges at {point} %", later[f"ttfb_{point}"], -0.05, 0.05)
        for point in POINTS
    )
    rows.append(("readings a second, forecasts included", speed, None, None))
    yield from table(
        ["target", "reached", "wanted", ""],
        [[name, figure(value), *verdict(value, low, high)] for name, value, low, high in rows],
    )


def verdict(value: float, low: float | None, high: float | None) -> tuple[str, str]:
    if low is None and high is None:
        return "", ""
    wanted = f"{low} to {high}" if low is not None and high is not None else ""
    wanted = wanted or (f">= {low}" if low is not None else f"<= {high}")
    good = (low is None or value >= low) and (high is None or value <= high)
    return wanted, "reached" if good else "**missed**"


def jobs(only: str, quick: bool) -> list[tuple[str, Path, str]]:
    return [
        (generator, path, way)
        for generator, folder in GENERATORS.items()
        for path in sorted(folder.glob("*.csv.gz"))
        for way in WAYS
        if only in path.name and (not quick or path.name.startswith(QUICK))
    ]


def main() -> None:
    parser = argparse.ArgumentParser(description="Score the engine against known truth.")
    parser.add_argument("--quick", action="store_true", help="four captures only")
    parser.add_argument("--only", default="", help="captures whose name holds this")
    parser.add_argument("--md", type=Path, help="also write the tables here")
    chosen = parser.parse_args()
    todo = jobs(chosen.only, chosen.quick)
    if not todo:
        sys.exit(f"score: no capture has {chosen.only!r} in its name")
    with ProcessPoolExecutor(2) as pool:
        scored = list(pool.map(score_one, todo))
    text = "\n".join(report(scored))
    if chosen.md:
        chosen.md.write_text(text + "\n")
    print(text)


if __name__ == "__main__":
    main()
