"""Cases of a bank's own figures: name: (raises it, comes close and must not)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from adapters.reading import Channel, Quantity, Reading
from monitor.engine.align import Alignment
from monitor.engine.celsius_trust import CelsiusTrust
from monitor.engine.watch import BankWatch
from tests.monitor.engine.sites import site
from tests.monitor.engine.watched import watched

Case = Callable[[], Any]


def gassed(hours: int, volts_per_cell: float = 2.43) -> BankWatch:
    """So many whole hours of the last day at that voltage, the rest of it at 2.25 V."""
    watch = watched("flooded")
    for minute in range(24 * 60):
        volts = volts_per_cell if minute < hours * 60 else 2.25
        watch.gassing.look(60.0 * minute, volts, 25.0, 60.0)
    return watch


def warmed(
    *degrees: float, ambient: float | None = 15.0, floats: bool = False, last_minutes: int = 60
) -> BankWatch:
    """An hour at each of these temperatures, or less at the last, looked at every minute."""
    watch, trust = watched(celsius=degrees[-1], amps=0.4), CelsiusTrust()
    for minute in range(60 * (len(degrees) - 1) + last_minutes):
        celsius = degrees[minute // 60]
        watch.warmth.look(60.0 * minute, celsius, ambient, floats)
        trust.look(60.0 * minute, celsius)
    watch.leap, watch.could_be = trust.leap, trust.could_be
    return watch


def twice(one: float, other: float, amps: float = 0.0, minutes: int = 20) -> BankWatch:
    """A bank whose voltage two devices tell."""
    watch = watched()
    channel = Channel("house", Quantity.BANK_VOLTS)
    alignment = Alignment(site(house=watch.bank, links=(("shunt", 1.0), ("charger", 5.0))))
    for minute in range(minutes):
        seconds = 60.0 * minute
        alignment.take(Reading(seconds, "shunt", ((channel, one),)))
        alignment.take(Reading(seconds, "charger", ((channel, other),)))
        watch.followed.disagreement.look(alignment.banks[0], seconds, amps)
    return watch


def stored(chemistry: str, soc: float) -> BankWatch:
    return watched(chemistry, bank_keys={"laid_up": True}, soc=soc)


def overloaded(amps: float, **ratings: float) -> BankWatch:
    return watched(bank_keys=ratings, amps=amps)


CASES: Final[dict[str, tuple[Case, Case]]] = {
    # 2.465 V per cell and 1.5 % are 2.502 V; a lone cell may stand 0.1 V higher.
    "cell-over-voltage": (
        lambda: watched("lfp", cell__highest_volts=3.72),
        lambda: watched("lfp", cell__highest_volts=3.69),
    ),
    "cell-under-voltage": (
        lambda: watched("lfp", cell__lowest_volts=2.45),
        lambda: watched("lfp", cell__lowest_volts=2.55),
    ),
    "under-voltage-at-rest": (
        lambda: watched(volts=11.6, idle_seconds=3600.0),
        # under load, or a moment after it, that says nothing
        lambda: watched(volts=11.6, idle_seconds=900.0),
    ),
    "inverter-cut-off-near": (
        lambda: watched(volts=10.7, amps=-100.0),
        lambda: watched(volts=10.9, amps=-100.0),
    ),
    "gassing-too-long": (lambda: gassed(13), lambda: gassed(11)),
    "bank-cold": (lambda: watched(celsius=-11.0), lambda: watched("lfp", celsius=-19.0)),
    "warming-in-float": (
        lambda: warmed(20, 20, 20, 21, 22, 24, 26, 27, floats=True),
        # as warm, but a day's sun warms the air as well
        lambda: warmed(20, 20, 20, 21, 22, 24, 26, 27, ambient=24.0, floats=True),
    ),
    "temperature-leapt": (
        lambda: warmed(20, 20, 55, last_minutes=6),
        lambda: warmed(20, 20, 29, last_minutes=6),
    ),
    "temperature-off-air": (
        lambda: warmed(*[45] * 8),
        # a bank that is heated in hard frost
        lambda: warmed(*[12] * 8, ambient=-22.0),
    ),
    # 0.70 give or take 0.03 may be no more than 0.73; 0.74 may be 0.77.
    "stored-too-low": (lambda: stored("agm", 0.70), lambda: stored("agm", 0.74)),
    "stored-too-full": (lambda: stored("lfp", 0.90), lambda: stored("lfp", 0.82)),
    # 1 % of 12.7 V and 30 mV: two meters may be 0.157 V apart
    "meters-disagree": (lambda: twice(12.7, 12.9), lambda: twice(12.7, 12.85)),
    "discharge-current-high": (lambda: watched(amps=-230.0), lambda: watched(amps=-210.0)),
    "cable-overloaded": (
        lambda: overloaded(-110.0, cable_amps=100.0),
        lambda: overloaded(-104.0, cable_amps=100.0),
    ),
    "fuse-overloaded": (
        lambda: overloaded(-112.0, fuse_amps=100.0),
        lambda: overloaded(-108.0, fuse_amps=100.0),
    ),
    "cell-near-high-limit": (
        # 0.02 V a minute
        lambda: watched(
            "lfp", volts=13.8, amps=30.0, cell__highest_volts=3.61, cell__pace=0.02 / 60.0
        ),
        # as high, and held there: balancing
        lambda: watched(
            "lfp", volts=14.17, amps=5.0, cell__highest_volts=3.62, cell__pace=0.02 / 60.0
        ),
    ),
    "cell-near-low-limit": (
        lambda: watched("lfp", amps=-30.0, cell__lowest_volts=2.85),
        lambda: watched("lfp", amps=-30.0, cell__lowest_volts=2.95),
    ),
    "charge-near-cold-limit": (
        lambda: watched("lfp", amps=30.0, celsius=1.0),
        lambda: watched("lfp", amps=-30.0, celsius=1.0),
    ),
    "bank-near-hot-limit": (
        lambda: watched("lfp", celsius=50.0, cell__warmest=56.0),
        lambda: watched("lfp", celsius=50.0, cell__warmest=54.0),
    ),
}
