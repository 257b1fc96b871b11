"""The engine compiled: a copy of the packages in `.venv/fast`, its hot rooms through mypyc.

    python -m tests.reference.fast           build the copy, hold it against the plain engine
    PYTHONPATH=.venv/fast .venv/bin/ampwright ...           run with it

Nothing needs it and nothing of it is kept: the same files, typed as they are, only run faster. The
copy is made anew every time, so that no compiled file stands beside a source that has changed.
Events and snapshots are the same, bit for bit; `test_fast.py` proves it where the copy is there.

One thing the compiler (mypyc 2.4) gets wrong: a constant that is a tuple beginning with a float is
"not set" when it is unpacked or indexed. The rooms listed here have none.
"""

from __future__ import annotations

import filecmp
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).parents[2]
COPY: Final = ROOT / ".venv" / "fast"
PACKAGES: Final = ("adapters", "replay", "monitor", "tests")
#: What is gone through at every reading, in the order of the data (the compiler's order of types
#: follows it), and what a refresh of the forecast runs. The forecast itself stays plain, so that
#: its refreshes can be timed apart.
ROOMS: Final = (
    *("slopes", "signal", "features", "setpoints", "hold", "taper", "transitions", "scores"),
    *("stage", "stage_evidence", "stage_order", "align", "device", "charge", "charge_counting"),
    *("cell", "gaussian", "falling_current", "full", "plateau", "unknowns", "resistance"),
    *("charge_run", "rooms", "engine", "watch", "steps", "cut_off", "held_current", "posts_lead"),
    *("panel", "alarms", "journal", "source", "lead", "joint", "cell_figures", "sides", "catch"),
    "minute",
)
#: First input and how many: a charge from bulk to float, loads between; a coach of many devices.
PARTS: Final = (("c17", 1000, 6000), ("pinewater", 0, 6000))

_SETUP: Final = """
import sys
from setuptools import setup
from mypyc.build import mypycify
files = sys.argv.pop(1).split(",")
setup(name="fast", packages=[], ext_modules=mypycify(["--strict", *files], opt_level="2"))
"""

_SAID: Final = """
import hashlib, itertools, sys
from monitor.engine import signal
from monitor.engine.engine import Engine
from tests.reference.speed import inputs_of
name, first, count = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
where, inputs = inputs_of(name)
engine = Engine(where)
said = hashlib.sha256()
for given in itertools.islice(inputs, first, first + count):
    for event in engine.step(given):
        said.update(repr(event).encode())
    said.update(repr(engine.glance(where.banks[0].id)).encode())
said.update(repr((engine.snapshot(), engine.state())).encode())
print(signal.__file__)
print(said.hexdigest())
"""

_RATES: Final = """
import sys
from tests.reference import speed
for name in sys.argv[1:]:
    where, inputs = speed.inputs_of(name)
    whole, refresh = speed.best_times(where, inputs)
    print(name, len(inputs) / whole, len(inputs) / (whole - refresh))
"""


class Unable(Exception):
    """One line that says why there is no compiled engine."""


def build() -> None:
    """Copy and compile. Unable where there is no compiler, or it refuses."""
    if shutil.which(os.environ.get("CC", "cc")) is None:
        raise Unable("no C compiler found (cc): install one, or do without: the plain engine runs")
    shutil.rmtree(COPY, ignore_errors=True)
    for package in PACKAGES:
        shutil.copytree(ROOT / package, COPY / package)
    files = ",".join(f"monitor/engine/{room}.py" for room in ROOMS)
    done = subprocess.run(
        [sys.executable, "-c", _SETUP, files, "build_ext", "--inplace"],
        cwd=COPY,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode != 0:
        shutil.rmtree(COPY, ignore_errors=True)
        lines = (done.stderr or done.stdout).strip().splitlines() or ["no reason given"]
        raise Unable(f"mypyc refuses the engine: {lines[-1]}")
    shutil.rmtree(COPY / "build", ignore_errors=True)


def built() -> bool:
    """Is there a copy, made from the engine as it is now?"""
    there = (COPY / "monitor" / "engine").is_dir()
    return there and not any(_changed(path) for path in (ROOT / "monitor").rglob("*.py"))


def _changed(path: Path) -> bool:
    copied = COPY / path.relative_to(ROOT)
    return not copied.exists() or not filecmp.cmp(path, copied, shallow=False)


def run(program: str, root: Path, *words: str) -> list[str]:
    """Lines printed by a program that imports the packages from `root`."""
    done = subprocess.run(
        [sys.executable, "-c", program, *words],
        cwd=root,
        env={**os.environ, "PYTHONPATH": str(root)},
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout.splitlines()


def said(root: Path, part: tuple[str, int, int]) -> tuple[str, str]:
    """The file that an engine's signal comes from, and the sum of all that the engine said."""
    where, total = run(_SAID, root, *map(str, part))
    return where, total


def rates(root: Path, names: tuple[str, ...]) -> Iterator[tuple[str, float, float]]:
    """Capture, readings a second with and without refreshing forecasts."""
    for line in run(_RATES, root, *names):
        name, whole, without = line.split()
        yield name, float(whole), float(without)


def main() -> int:
    try:
        build()
    except Unable as reason:
        print(f"fast: {reason}", file=sys.stderr)
        return 1
    for part in PARTS:
        if said(ROOT, part)[1] != said(COPY, part)[1]:
            print(f"fast: the compiled engine says something else on {part[0]}", file=sys.stderr)
            return 1
    print("compiled and plain engine say the same\n")
    names = ("c01", "c08", "c17", "pinewater")
    print(
        f"{'readings a second':18} {'plain':>8} {'compiled':>9}   {'without refresh':>8} compiled"
    )
    for plain, fast in zip(rates(ROOT, names), rates(COPY, names), strict=True):
        print(
            f"{plain[0]:18} {plain[1]:8.0f} {fast[1]:9.0f}   {plain[2]:15.0f} {fast[2]:8.0f}",
            flush=True,
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
