"""One fault, endured: healthy, failing, healed; what was seen, and how soon it was back."""

from __future__ import annotations

import asyncio
import re
import time
from pathlib import Path
from typing import NamedTuple

from tests.adapters.faulty.bench import Bench
from tests.adapters.faulty.faults import DOWN, VALUE, Fault

#: A device that is back must be read again within this.
BACK_SECONDS = 5.0
#: While nothing is plugged in the reader may take this share of a core.
IDLE_SHARE = 0.02
#: Longest wait for anything at all: a hang is a failure, not a patience.
PATIENCE_SECONDS = 20.0
HEALTHY_READINGS = 3


class Endured(NamedTuple):
    """`seen` in words; `failed` says what was not as it must be, empty where all was."""

    fault: Fault
    seen: str
    back_seconds: float
    idle_share: float | None
    failed: str


async def endure(
    fault: Fault, folder: Path, *, timeout: float, period: float, idle_seconds: float
) -> Endured:
    """Run it; `timeout` and `period` are the reader's, `idle_seconds` how long an unplugged reader
    is watched for what it costs."""
    folder.mkdir(parents=True, exist_ok=True)
    bench = Bench(fault.wire, folder, timeout, period)
    await bench.plug()
    if fault.at_first:
        await fault.begin(bench)
    async with bench.read():
        if not fault.at_first and not await bench.until(
            lambda: bench.readings >= HEALTHY_READINGS, PATIENCE_SECONDS
        ):
            return Endured(fault, f"never read: {bench.reasons}", 0.0, None, "was never read")
        before, reasons = bench.readings, len(bench.reasons)
        if not fault.at_first:
            await fault.begin(bench)
        failed = await _failing(fault, bench, before, reasons)
        share = await _idle(idle_seconds) if fault.idle and idle_seconds else None
        seen = _in_words(bench, reasons)
        await fault.end(bench)
        back, healed = time.monotonic(), bench.readings
        if not await bench.until(lambda: bench.readings > healed, PATIENCE_SECONDS):
            failed = failed or "never read again"
        back_seconds = time.monotonic() - back
    if bench.wrong:
        failed = f"a wrong value: {bench.wrong[0]}"
    elif not failed and back_seconds > BACK_SECONDS:
        failed = f"back after {back_seconds:.1f} s only"
    elif not failed and share is not None and share > IDLE_SHARE:
        failed = f"{100 * share:.1f} % of a core while nothing is plugged in"
    return Endured(fault, seen, back_seconds, share, failed)


async def _failing(fault: Fault, bench: Bench, before: int, reasons: int) -> str:
    """Wait until the fault has shown what it does; what was not as expected."""

    def down() -> bool:
        return len(bench.reasons) > reasons

    def going() -> bool:
        return bench.readings >= before + HEALTHY_READINGS + 2

    def told() -> bool:
        return any(re.search(fault.words, each) for each in bench.reasons[reasons:])

    if fault.expected == VALUE:
        if not await bench.until(lambda: going() or down(), PATIENCE_SECONDS):
            return "neither a value nor a reason"
        return f"told down: {bench.reasons[-1]}" if down() else ""
    if fault.expected == DOWN:
        if not await bench.until(down, PATIENCE_SECONDS):
            return "never told down"
        if not await bench.until(told, PATIENCE_SECONDS):
            return f'told "{bench.reasons[-1]}", expected "{fault.words}"'
        # one answer may have been on its way as it began
        return "" if bench.readings <= before + 1 else "values while it failed"
    shown = await bench.until(lambda: down() or going(), PATIENCE_SECONDS)
    return "" if shown else "neither a value nor a reason"


async def _idle(seconds: float) -> float:
    """The share of a core that this process takes while nothing happens but the reader."""
    wall, cpu = time.monotonic(), time.process_time()
    await asyncio.sleep(seconds)
    return (time.process_time() - cpu) / (time.monotonic() - wall)


def _in_words(bench: Bench, reasons: int) -> str:
    new = bench.reasons[reasons:]
    if not new:
        return "right values go on"
    return f"down: {new[-1].replace(str(bench.port), 'PORT')}"
