"""Cases of charging: name: (raises it, comes close and must not). The bank: AGM, 200 Ah, 12 V."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from monitor.bank import SourceKind
from monitor.engine.watch import BankWatch
from tests.monitor.engine.minutes import Story, source
from tests.monitor.engine.watched import watched


def vain(hours: float, net_amps: float, kind: SourceKind = SourceKind.AC_CHARGER) -> BankWatch:
    """A source gives 10 A for so long, of which so much reaches the bank, half full at first."""
    story = Story()
    given = source(10.0, kind=kind)
    story.add(60 * hours, stage="bulk", amps=net_amps, volts=12.9, soc=0.5, sources=(given,))
    return story.done


def absorptions(end_amps: float, days: int, to: str = "float") -> BankWatch:
    """Every day an hour of absorption that ends at this current, and ten hours of what follows."""
    story = Story()
    for _ in range(days):
        story.add(60, stage="absorption", volts=14.4, amps=end_amps)
        story.add(600, stage=to, volts=13.6, amps=1.0)
        story.add(780, stage="discharge", amps=-2.0)
    return story.done


def after_full(hours: float, ac_volts: float | None) -> BankWatch:
    """Absorption down to 1 A; since then nothing from the charger."""
    off = source(0.0, reported="off", silent=True, ac_volts=ac_volts)
    story = Story().add(10, stage="absorption", amps=1.0, volts=14.4)
    return story.add(60 * hours, stage="rest", sources=(off,)).done


def low_float(volts: float, hours: float) -> BankWatch:
    """The source says float, and has for so long; float is set to 13.6 V."""
    watch = watched(volts=volts, amps=0.1, hold__volts=volts, hold__seconds=3600.0)
    watch.followed.course.says_float = True
    watch.followed.course.float_seconds = 3600.0 * hours
    return watch


def fixed(hours: float, volts: float) -> BankWatch:
    """A source that says that it only holds one voltage."""
    supply = source(2.0, kind=SourceKind.FIXED, reported="fixed")
    story = Story().add(60 * hours, stage="absorption", volts=volts, amps=2.0, sources=(supply,))
    return story.done


def floats(mv_per_celsius: float, swing: float = 4.0, days: int = 3) -> BankWatch:
    """Floats of a day, the bank between 15 - swing and 15 + swing °C, six cells."""
    story = Story()
    for day in range(days):
        for hour in range(24):
            celsius = 15.0 + swing * (hour - 12.0) / 12.0
            volts = 13.6 + 6e-3 * mv_per_celsius * (celsius - 25.0) + 0.001 * (hour % 3) * day
            story.add(60, stage="float", volts=volts, amps=0.2, celsius=celsius)
        story.add(10, stage="discharge", amps=-5.0)
    return story.done


def stops(count: int, net_amps: float, kind: SourceKind = SourceKind.AC_CHARGER) -> BankWatch:
    """A charger that gives 30 A for forty minutes and then nothing for as long, so many times."""
    story = Story()
    for _ in range(count):
        on, off = source(30.0, kind=kind), source(0.0, kind=kind, silent=True)
        story.add(40, stage="bulk", amps=net_amps, volts=13.2, sources=(on,))
        story.add(40, stage="discharge", amps=-3.0, volts=12.5, sources=(off,))
    return story.done


def warm_weeks(days: float, soc: float, celsius: float) -> BankWatch:
    return Story("lfp").add(1440 * days, soc=soc, celsius=celsius, volts=13.5).done


def worn(capacity: float, sd: float) -> BankWatch:
    return Story().add(2, capacity=capacity, capacity_sd=sd, last_full=10.0).done


def discharges(amps: float, count: int) -> BankWatch:
    """From full, twenty hours down to 12.3 V (half gone by the table of AGM), so many times."""
    story = Story()
    for day in range(count):
        full = 86400.0 * day + 60.0
        for hour in range(20):
            volts = 12.85 - 0.55 * hour / 19.0
            story.add(60, stage="discharge", volts=volts, amps=-amps, last_full=full)
        story.add(240, stage="bulk", volts=13.5, amps=20.0, last_full=full)
    return story.done


def settled(amps: float, stage: str = "float", hours: float = 12.0) -> BankWatch:
    return Story().add(60 * hours, stage=stage, amps=amps, volts=13.6).done


def pair(left: float, right: float, minutes: float) -> BankWatch:
    """Two chargers of 40 A: both at their limit for a quarter of an hour, then these."""
    both = (source(40.0, "left"), source(40.0, "right", reported="bulk"))
    now = (source(left, "left"), source(right, "right", reported="absorption"))
    story = Story().add(15, stage="bulk", amps=75.0, volts=13.8, sources=both)
    return story.add(minutes, stage="bulk", amps=left + right, volts=14.0, sources=now).done


def suns(*daily_amp_hours: float) -> BankWatch:
    """Days of sun on a bank that is never full."""
    story = Story()
    for amp_hours in daily_amp_hours:
        panel = source(amp_hours / 6.0, "roof", SourceKind.SOLAR)
        dark = source(0.0, "roof", SourceKind.SOLAR, silent=True)
        story.add(360, stage="bulk", amps=2.0, sources=(panel,))
        story.add(1080, stage="discharge", amps=-2.0, sources=(dark,))
    return story.done


CASES: Final[dict[str, tuple[Callable[[], Any], Callable[[], Any]]]] = {
    # 0.5 A of 10 gains nothing; 8 A fill the 100 Ah missing in 15 h, 1.2 times that are allowed
    "charge-in-vain": (lambda: vain(6.5, 0.5), lambda: vain(14.0, 8.0)),
    # 20 A of 200 Ah is far from the end; a generator that stops is not the charger's doing
    "absorption-cut-short": (
        lambda: absorptions(20.0, 3),
        lambda: absorptions(20.0, 5, to="discharge"),
    ),
    "no-float-after-full": (lambda: after_full(1.5, 230.0), lambda: after_full(8.0, None)),
    "float-below-set-point": (lambda: low_float(13.2, 1.0), lambda: low_float(13.2, 5.0)),
    "fixed-overcharge": (lambda: fixed(13.0, 14.4), lambda: fixed(48.0, 13.6)),
    # AGM between -3 and -5 mV
    "compensation-wrong": (lambda: floats(0.0), lambda: floats(-3.0)),
    "charge-interrupted": (
        lambda: stops(3, 25.0),
        # the charger was carrying loads, and the bank took nothing
        lambda: stops(8, 1.0),
    ),
    "kept-full-and-warm": (
        lambda: warm_weeks(10.5, 0.98, 33.0),
        lambda: warm_weeks(20.0, 0.98, 26.0),
    ),
    "capacity-low": (lambda: worn(0.6, 0.05), lambda: worn(0.75, 0.05)),
    # 0.46 of 200 Ah are gone: 92 Ah
    "empty-too-soon": (lambda: discharges(2.4, 2), lambda: discharges(3.9, 4)),
    # 5 mA for an Ah and 0.3 A: 1.3 A; 1.6 A and 0.3 A in absorption
    "held-current-high": (lambda: settled(2.0), lambda: settled(1.8, "absorption")),
    "sources-share-unevenly": (lambda: pair(39.0, 2.0, 25.0), lambda: pair(25.0, 2.0, 200.0)),
    "sun-blocked": (
        lambda: suns(60.0, 50.0, 5.0, 6.0, 4.0, 5.0),
        lambda: suns(60.0, 50.0, 5.0, 6.0, 4.0, 14.0),
    ),
}
