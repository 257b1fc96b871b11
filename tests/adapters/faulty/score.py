"""Links that fail, one by one, with the time limits of real devices: `make score-links`.

A row a fault: what was expected, what was seen, how soon the device was read again once it was
back, and what the reader cost while nothing was plugged in. Exits with 1 where a row fails.
"""

from __future__ import annotations

import asyncio
import logging
import os
import sys
import tempfile
import threading
import time
from pathlib import Path

from tests.adapters.faulty.bench import Bench
from tests.adapters.faulty.endure import PATIENCE_SECONDS, endure
from tests.adapters.faulty.faults import FAULTS

#: Of real devices: the reader's time limit and its period.
TIMEOUT_SECONDS, PERIOD_SECONDS = 0.5, 0.5
IDLE_SECONDS = 10.0
REPLUGGED = 50


async def score() -> bool:
    print("| fault | wire | expected | seen | back after s | cost unplugged | |")
    print("|---|---|---|---|---|---|---|")
    good = True
    with tempfile.TemporaryDirectory() as folder:
        for at, fault in enumerate(FAULTS):
            done = await endure(
                fault,
                Path(folder) / str(at),
                timeout=TIMEOUT_SECONDS,
                period=PERIOD_SECONDS,
                idle_seconds=IDLE_SECONDS,
            )
            good = good and not done.failed
            share = "" if done.idle_share is None else f"{100 * done.idle_share:.2f} %"
            seen = done.seen.replace("|", "/")[:110]
            failed = f"**{done.failed}**" if done.failed else ""
            print(
                f"| {fault.name} | {fault.wire} | {fault.expected} | {seen} "
                f"| {done.back_seconds:.1f} | {share} | {failed} |",
                flush=True,
            )
        return await replugged(Path(folder) / "again", REPLUGGED) and good


async def replugged(folder: Path, times: int) -> bool:
    """Unplug and plug in again, many times: files, threads and tasks as before."""
    folder.mkdir()
    bench = Bench("text", folder, timeout=0.3, period=0.05)
    await bench.plug()
    began = time.monotonic()
    async with bench.read():
        await bench.until(lambda: bench.readings >= 3, PATIENCE_SECONDS)
        before = _held()
        for _ in range(times):
            reasons = len(bench.reasons)
            await bench.unplug()
            down = await bench.until(lambda n=reasons: len(bench.reasons) > n, PATIENCE_SECONDS)  # type: ignore[misc]
            await bench.plug()
            heard = bench.readings
            back = await bench.until(lambda n=heard: bench.readings > n, PATIENCE_SECONDS)  # type: ignore[misc]
            if not (down and back):
                print(f"\\nreplugging failed: {bench.reasons[-3:]}")
                return False
        after = _held()
    same = all(now <= then + 1 for then, now in zip(before, after, strict=True))
    took = time.monotonic() - began
    print(
        f"\nUnplugged and plugged in again {times} times in {took:.0f} s: files, "
        f"threads, tasks {before} before and {after} after; {len(bench.wrong)} wrong values."
    )
    return same and not bench.wrong


def _held() -> tuple[int, int, int]:
    """Open files, threads and tasks."""
    return len(os.listdir("/proc/self/fd")), threading.active_count(), len(asyncio.all_tasks())


def main() -> int:
    logging.getLogger().addHandler(logging.NullHandler())
    return 0 if asyncio.run(score()) else 1


if __name__ == "__main__":
    sys.exit(main())
