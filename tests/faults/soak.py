"""`make soak`: a year of recording in made time, or as far as fifteen minutes go, and what it
costs that must not grow.

One reading a minute and a tick between them (a year of one a second would take a day of computing),
everything else as it is: the engine, the record, midnight every day, sealing, thinning, the index.
Every few days it is measured: memory, open files, threads, tasks, files and bytes of the record.
Ends with status 1 where any of them goes on growing that should not.
"""

from __future__ import annotations

import argparse
import asyncio
import gc
import math
import os
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Final, NamedTuple
from unittest.mock import patch

from adapters.adapter import Values
from adapters.reading import Channel, Quantity
from monitor.config import parse_config
from monitor.history.entries import reindex
from monitor.history.index import INDEX_NAME, everything, opened
from monitor.live import Live
from tests.monitor.recordings import BANK_TOML
from tests.monitor.virtual_time import run_virtual

DAY: Final = 86_400.0
PERIOD: Final = 60.0
WALL: Final = 1.7e9
#: Kept short, so that every grade is reached within weeks.
_TOML: Final = f"""\
{BANK_TOML}
[sources.shore]
kind = "ac-charger"

[devices.shunt]
adapter = "scripted"
period_seconds = {PERIOD}

[history]
directory = "record"
keep_days = 7
keep_years = 0.04
"""
#: Megabytes by which memory may be larger at the end than after a third (the allocator's own).
MOST_GROWTH: Final = 4.0
#: While the index is being written its database, log and shared memory are open.
INDEX_FILES: Final = 3


class Coach:
    """Loads all day, a charger at night: absorption at 14.4 V, float, and a discharge to half."""

    name = "shunt"
    period_seconds = PERIOD

    def __init__(self) -> None:
        self.hours = 0.0
        self.charge = 0.7

    async def open(self) -> None: ...

    async def poll(self) -> Values:
        self.hours += PERIOD / 3600.0
        hour = self.hours % 24.0
        rest = 12.0 + 0.9 * self.charge
        if hour < 10.0:
            amps = min(35.0, 260.0 * (1.003 - self.charge))
            volts = min(14.4 if self.charge < 0.99 else 13.5, rest + 0.05 * amps + 0.3)
        else:
            amps = -6.0 - 2.0 * math.sin(hour)
            volts = rest + 0.01 * amps
        self.charge = min(
            1.0, self.charge + amps * PERIOD / 3600.0 / 230.0 * (0.97 if amps > 0 else 1.0)
        )
        return (
            (Channel("house", Quantity.BANK_VOLTS), round(volts, 2)),
            (Channel("house", Quantity.BANK_AMPS), round(amps, 1)),
            (Channel("house", Quantity.BANK_CELSIUS), round(18.0 + 4.0 * math.sin(hour / 4.0), 1)),
        )

    async def close(self) -> None: ...


class Look(NamedTuple):
    day: float
    memory: float
    files: int
    threads: int
    tasks: int
    segments: int
    megabytes: float
    index: float
    state: float


def _look(directory: Path, day: float) -> Look:
    gc.collect()
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    held = [path for path in directory.iterdir() if ".capture" in path.name]
    return Look(
        day,
        pages * os.sysconf("SC_PAGE_SIZE") / 1e6,
        len(os.listdir("/proc/self/fd")),
        threading.active_count(),
        len(asyncio.all_tasks()),
        len(held),
        sum(path.stat().st_size for path in held) / 1e6,
        sum(path.stat().st_size for path in directory.glob("index.sqlite*")) / 1e6,
        (directory / "bank.state").stat().st_size / 1e3,
    )


def soak(directory: Path, days: int, minutes: float, every: int) -> list[Look]:
    """Record for so many days, or as many as so many minutes of real time allow."""
    looks: list[Look] = []
    end = time.monotonic() + 60.0 * minutes

    async def main() -> None:
        loop = asyncio.get_running_loop()
        live = Live(
            parse_config(_TOML, "coach.toml"),
            history_path=directory,
            adapters=[Coach()],
            monotonic=loop.time,
            wall=lambda: WALL + loop.time(),
            boot="one start",
        )
        acquiring = asyncio.create_task(live.acquire())
        for day in range(1, days + 1):
            await asyncio.sleep(DAY)
            over = time.monotonic() > end
            if day % every == 0 or day == days or over:
                looks.append(_look(directory, day))
                print(_words(looks[-1]), flush=True)
            if over:
                break
        acquiring.cancel()
        await asyncio.gather(acquiring, return_exceptions=True)
        assert live.failure is None
        assert live._record is not None
        assert live._record._worker.trouble is None, live._record._worker.trouble

    with patch("monitor.live.TICK_SECONDS", PERIOD):
        run_virtual(main())
    return looks


_NAMES: Final = (
    "day",
    "memory MB",
    "open files",
    "threads",
    "tasks",
    "segments",
    "record MB",
    "index MB",
    "state kB",
)
_HEAD: Final = f"| {' | '.join(_NAMES)} |"


def _words(look: Look) -> str:
    return (
        f"| {look.day:.0f} | {look.memory:.1f} | {look.files} | {look.threads} | {look.tasks} "
        f"| {look.segments} | {look.megabytes:.2f} | {look.index:.2f} | {look.state:.0f} |"
    )


def judged(looks: list[Look]) -> list[str]:
    """What grew that should not have."""
    if len(looks) < 3:
        return ["too short to judge"]
    early, late = looks[len(looks) // 3], looks[-1]
    found = []
    if late.memory - early.memory > MOST_GROWTH:
        found.append(f"memory grew by {late.memory - early.memory:.1f} MB")
    found += [
        f"more {name}: {getattr(early, name)} and then {getattr(late, name)}"
        for name, allowed in (("files", INDEX_FILES), ("threads", 0), ("tasks", 0))
        if getattr(late, name) > getattr(early, name) + allowed
    ]
    if late.state > 1.5 * early.state:
        found.append(f"the state grew from {early.state:.0f} to {late.state:.0f} kB")
    return found


def main() -> int:
    parser = argparse.ArgumentParser(prog="make soak", description=__doc__)
    parser.add_argument("--days", type=int, default=366)
    parser.add_argument("--minutes", type=float, default=15.0)
    parser.add_argument("--every", type=int, default=5, help="days from one look to the next")
    arguments = parser.parse_args()
    print(_HEAD + "\n|---|---|---|---|---|---|---|---|---|", flush=True)
    # in memory where that can be: what a card bears is measured elsewhere
    shm = Path("/dev/shm")
    where = shm if shm.is_dir() else None
    with tempfile.TemporaryDirectory(prefix="ampwright-soak-", dir=where) as folder:
        directory = Path(folder, "record")
        looks = soak(directory, arguments.days, arguments.minutes, arguments.every)
        with opened(directory / INDEX_NAME) as connection:
            kept = everything(connection)
        began = time.monotonic()
        again = reindex(directory, lambda line: print(line, file=sys.stderr))
        same = again == kept
        words = "the same" if same else "ANOTHER"
        print(f"index made anew in {time.monotonic() - began:.0f} s: {words}")
        found = judged(looks) + ([] if same else ["the index is not what the segments say"])
    for line in found:
        print(line, file=sys.stderr)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
