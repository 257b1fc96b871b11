"""Run the dashboard on a hand-made feed, for tests that need a real terminal.

`python -m tests.monitor.dashboard.board_in_terminal SECONDS LOG` ticks for ever, and writes to LOG
that its feed was stopped: the terminal may be gone by then. With `proving` after it an installation
is being proved on that feed, its volts under way.
"""

from __future__ import annotations

import asyncio
import sys
from collections.abc import AsyncIterator
from dataclasses import replace
from datetime import UTC
from pathlib import Path

from monitor.commission.attended import Attended
from monitor.commission.installation_file import from_site
from monitor.commission.procedure import Procedure
from monitor.commission.said import Said
from monitor.commission.session import Session
from monitor.commission.setting import Setting
from monitor.dashboard.run import run_dashboard
from monitor.engine.snapshot import Measured, Snapshot
from tests.monitor.dashboard.fake_feed import COUNTS, HOUSE, NORMAL, FakeFeed


class TickingFeed(FakeFeed):
    """A new snapshot every so often, its figures moving as a live bank's do."""

    def __init__(self, period: float, log: Path) -> None:
        super().__init__(None)
        self._period, self._log = period, log

    async def snapshots(self) -> AsyncIterator[Snapshot]:
        second = 0
        while True:
            # One more answer of each device, a little quicker or slower than the one before.
            self.counts = tuple(
                replace(each, polls=each.polls + second, median_seconds=0.04 + second % 7 / 500)
                for each in COUNTS
            )
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


def proving(feed: FakeFeed) -> Attended:
    """The check of the volts, begun: its figure moves with every snapshot."""
    bank = feed.site.banks[0]
    procedure = Procedure(Setting(feed.site, bank, from_site(feed.site, bank)))
    procedure.hear(Said(NORMAL.seconds, "bench", "voltmeter", "begin", ""))
    return Attended(feed, Session(feed, procedure, None))


if __name__ == "__main__":
    ticking = TickingFeed(float(sys.argv[1]), Path(sys.argv[2]))
    shown = proving(ticking) if "proving" in sys.argv[3:] else ticking
    sys.exit(run_dashboard(shown, zone=UTC))  # type: ignore[arg-type]
