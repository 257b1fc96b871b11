"""A live feed in made time that keeps a record: what the tests of the record share."""

from __future__ import annotations

import asyncio
import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest.mock import patch

from adapters.adapter import Values
from adapters.reading import Channel, Quantity
from monitor.config import Config, parse_config
from monitor.history.worker import AtOnce
from monitor.live import Live
from tests.monitor.recordings import BANK_TOML
from tests.monitor.test_feed_live import Scripted
from tests.monitor.virtual_time import run_virtual

#: 14 November 2023, 22:13:20 UTC.
WALL = 1.7e9
MIDNIGHT = 1_700_006_400.0
DAY = 86_400.0

TOML = f"""\
{BANK_TOML}
[devices.shunt]
adapter = "scripted"
period_seconds = {{period}}

[history]
directory = "record"
{{more}}
"""


def config(period: float = 10.0, more: str = "") -> Config:
    return parse_config(TOML.format(period=period, more=more), "coach.toml")


def daily(seconds: float) -> Values:
    """Eight hours of charge and sixteen of loads, every day."""
    hour = seconds / 3600.0 % 24.0
    amps = 20.0 - 2.0 * hour if hour < 8.0 else -2.0
    volts = 12.7 + 0.2 * hour if hour < 8.0 else 12.6 - 0.02 * hour
    return (
        (Channel("house", Quantity.BANK_VOLTS), round(volts, 2)),
        (Channel("house", Quantity.BANK_AMPS), round(amps + 0.3 * math.sin(seconds), 1)),
        (Channel("house", Quantity.BANK_CELSIUS), 21.0),
    )


@dataclass
class Machine:
    """A computer that starts, runs and stops: its clocks, and which start it is."""

    uptime: float = 100.0
    #: Unix time at uptime 0, as the machine believes it.
    wall_zero: float = WALL
    boot: str = "first start"
    period: float = 10.0
    more: str = ""
    answer: Callable[[float], Values] = daily
    free: Callable[[Path], int] = lambda _: 10**12

    def run(
        self,
        directory: Path,
        seconds: float,
        *,
        kill: bool = False,
        at: tuple[tuple[float, Callable[[Live], Any]], ...] = (),
        config_text: Config | None = None,
    ) -> Live:
        """Record for so long; `kill` ends it with no farewell. `at` are things that happen."""
        made: list[Live] = []

        async def main() -> None:
            loop = asyncio.get_running_loop()
            began = loop.time()
            start = self.uptime

            def uptime() -> float:
                return start + loop.time() - began

            live = Live(
                config_text or config(self.period, self.more),
                history_path=directory,
                adapters=[Scripted("shunt", self.period, lambda _: self.answer(live.now()))],
                monotonic=uptime,
                wall=lambda: self.wall_zero + uptime(),
                boot=self.boot,
                worker=AtOnce(),
                free=self.free,
            )
            made.append(live)
            acquiring = asyncio.create_task(live.acquire())
            past = 0.0
            for moment, happening in at:
                await asyncio.sleep(moment - past)
                past = moment
                happening(live)
            await asyncio.sleep(seconds - past)
            if kill:
                live._finished = True  # no farewell: what is not on disk by now never will be
                assert live._record is not None
                live._record._lock.let_go()
            acquiring.cancel()
            await asyncio.gather(acquiring, return_exceptions=True)
            self.uptime = uptime()

        # A fifth of the ticks tells the same here, in a fifth of the time.
        with patch("monitor.live.TICK_SECONDS", 5.0):
            run_virtual(main())
        return made[0]

    def off(self, seconds: float, boot: str, *, wall_zero: float | None = None) -> None:
        """Power goes for so long; the next start counts from zero. Without `wall_zero` the clock
        has a battery."""
        now = self.wall_zero + self.uptime
        self.uptime, self.boot = 5.0, boot
        self.wall_zero = now + seconds - self.uptime if wall_zero is None else wall_zero
