"""Minutes of our own invention, for what follows hours and days."""

from __future__ import annotations

from typing import Any

from monitor.bank import SourceKind
from monitor.engine.minute import Minute, SourceMinute
from monitor.engine.watch import BankWatch
from tests.monitor.engine.watched import watched

RESTING = Minute(
    seconds=0.0,
    elapsed=60.0,
    volts=12.7,
    amps=0.0,
    celsius=25.0,
    stage="rest",
    sure=True,
    soc=0.8,
    soc_sd=0.03,
    capacity=1.0,
    capacity_sd=0.02,
    offset=0.0,
    offset_sd=0.05,
    last_full=None,
    load_watts=None,
    sources=(),
)


def source(
    amps: float | None = None,
    name: str = "shore",
    kind: SourceKind = SourceKind.AC_CHARGER,
    rated_amps: float = 40.0,
    reported: str | None = None,
    silent: bool = False,
    ac_volts: float | None = None,
) -> SourceMinute:
    return SourceMinute(name, kind, rated_amps, amps, reported, silent, ac_volts)


class Story:
    """A bank followed minute by minute: `add(minutes, what is different)`."""

    def __init__(self, chemistry: str = "agm", **figures: Any) -> None:
        self.watch = watched(chemistry, **figures)
        self.seconds = 0.0

    def add(self, minutes: float, **changes: Any) -> Story:
        cells = self.watch.cells
        for _ in range(round(minutes)):
            self.seconds += 60.0
            minute = RESTING._replace(seconds=self.seconds, **changes)
            shift = 0.0 if minute.celsius is None else -0.004 * (minute.celsius - 25.0)
            self.watch.followed.look(minute, minute.volts / cells - shift)
        if minutes:
            self.watch.minute_volts, self.watch.minute_amps = minute.volts, minute.amps
            self.watch.stage = minute.stage
        return self

    @property
    def done(self) -> BankWatch:
        return self.watch
