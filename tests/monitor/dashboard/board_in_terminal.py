"""Run the dashboard on a hand-made feed, for tests that need a real terminal.

`python -m tests.monitor.dashboard.board_in_terminal SECONDS LOG` ticks for ever, and writes to LOG
that its feed was stopped: the terminal may be gone by then.
"""

from __future__ import annotations

import asyncio
import sys
from collections.abc import AsyncIterator
from dataclasses import replace
from datetime import UTC
from pathlib import Path

from monitor.dashboard.app import run_dashboard
from monitor.engine.snapshot import Measured, Snapshot
from tests.monitor.dashboard.fake_feed import HOUSE, NORMAL, FakeFeed


class TickingFeed(FakeFeed):
    """A new snapshot every so often, its figures moving as a live bank's do."""

    def __init__(self, period: float, log: Path) -> None:
        super().__init__(None)
        self._period, self._log = period, log

    async def snapshots(self) -> AsyncIterator[Snapshot]:
        second = 0
        while True:
            yield moved(second)
            second += 1
            await asyncio.sleep(self._period)

    async def stop(self) -> None:
        self.stopped = True
        self._log.write_text("feed stopped", encoding="utf-8")


def moved(second: int) -> Snapshot:
    """The sample `second` seconds on: volts, amps and sources wander, current fades."""
    wander = ((second * 7919) % 11 - 5) / 100
    house = replace(
        HOUSE,
        volts=Measured(28.72 + wander, 1.0),
        amps=Measured(18.4 - second / 120 + 4 * wander, 1.0),
        load_amps=Measured(5.7 + 2 * wander, 1.0),
    )
    sources = (
        replace(NORMAL.sources[0], amps=Measured(21.3 - second / 120, 1.0)),
        replace(NORMAL.sources[1], amps=Measured(2.8 + 3 * wander, 1.0)),
    )
    seconds = NORMAL.seconds + second
    return replace(NORMAL, seconds=seconds, banks=(house, *NORMAL.banks[1:]), sources=sources)


if __name__ == "__main__":
    sys.exit(run_dashboard(TickingFeed(float(sys.argv[1]), Path(sys.argv[2])), zone=UTC))
