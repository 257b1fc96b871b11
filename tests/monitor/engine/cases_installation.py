"""Cases of the installation and of balance: name: (raises it, comes close and must not)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from monitor.engine.source import SourceRoom
from monitor.engine.watch import BankWatch
from tests.monitor.engine.minutes import Story, source
from tests.monitor.engine.watched import sourced, watched


def tapering(shunt_scale: float) -> BankWatch:
    """Two hours of absorption from 30 to 8 A, a lamp of 5 A now and then, half an amp of noise."""
    story = Story()
    for minute in range(120):
        amps = 8.0 + 22.0 * (1.0 - minute / 120.0) ** 2
        lamp = 5.0 if minute % 40 < 12 else 0.0
        noise = 0.5 * ((minute * 7) % 5 - 2) / 2.0
        given = (source(amps + lamp),)
        story.add(
            1, stage="absorption", volts=14.4, amps=shunt_scale * amps + 0.2 * noise, sources=given
        )
    return story.add(5, stage="float", volts=13.6, amps=1.0, sources=(source(1.0),)).done


def offset(amps: float, sd: float) -> BankWatch:
    return Story().add(1, offset=amps, offset_sd=sd).done


def overfull(capacity: float, sd: float) -> BankWatch:
    return Story().add(2, capacity=capacity, capacity_sd=sd, last_full=10.0).done


def charged(drawn_hours: float, amps: float, volts: float = 14.4) -> BankWatch:
    """Discharged at 10 A for so long; then 1.5 h at a charging voltage, the shunt at `amps`."""
    story = Story()
    story.add(60 * drawn_hours, stage="discharge", volts=12.4, amps=-10.0, soc=0.95)
    return story.add(90, stage="bulk", volts=volts, amps=amps, soc=0.95).done


def rested(days: float, millivolts_a_day: float, amps: float = 0.0) -> BankWatch:
    """At rest, each cell sinking by so much a day, the shunt at `amps`."""
    story = Story()
    for hour in range(round(24 * days)):
        volts = 12.7 - 6e-3 * millivolts_a_day * hour / 24.0
        story.add(60, volts=volts, amps=amps)
    return story.done


def habits(*spells: tuple[float, float], drained: bool = True) -> BankWatch:
    """Hours of watts, with a pump for five minutes in each; the bank carries them, or does not."""
    story = Story()
    for hours, watts in spells:
        for _ in range(round(hours)):
            amps = -watts / 12.0 if drained else 0.0
            story.add(5, stage="discharge", amps=amps - 5.0, load_watts=watts + 60.0)
            story.add(55, stage="discharge", amps=amps, load_watts=watts)
    return story.done


def halved(per_cell: float, stage: str) -> BankWatch:
    watch = watched(stage=stage)
    watch.followed.balance.look_at_halves(60.0, 6.4, 6.4 + 3.0 * per_cell)
    return watch


def celled(lowest: float, highest: float) -> BankWatch:
    watch = watched("lfp")
    watch.followed.balance.look_at_cells(60.0, lowest, highest)
    return watch


def led(milliohms: float) -> SourceRoom:
    """A source of 40 A; the leads known to half a milliohm."""
    room = sourced()
    room.lead.belief.mean[0] = milliohms * 1e-3
    room.lead.belief.forget(0, milliohms * 1e-3, 0.0005)
    room.lead.seconds = 10.0
    return room


CASES: Final[dict[str, tuple[Callable[[], Any], Callable[[], Any]]]] = {
    "shunt-scale": (lambda: tapering(0.5), lambda: tapering(0.93)),
    # 0.2 % of 200 Ah: 0.4 A, with two deviations
    "shunt-offset": (lambda: offset(-0.6, 0.05), lambda: offset(-0.45, 0.05)),
    "capacity-impossible": (lambda: overfull(1.4, 0.05), lambda: overfull(1.25, 0.05)),
    # a full bank that floats on a sensor that reads 0.3 A too little was not discharged before
    "charged-unseen": (lambda: charged(1.0, -0.5), lambda: charged(0.2, -0.3, volts=13.6)),
    "drained-unseen": (lambda: rested(4.0, 8.0), lambda: rested(7.0, 1.5)),
    # 0.5 % of 200 Ah at 12 V: 12 W more, all the time
    "standing-draw": (
        lambda: habits((30, 10.0), (14, 30.0)),
        # a table that is used from morning to evening, every day
        lambda: habits((24, 10.0), (11, 60.0), (13, 10.0), (11, 60.0), (13, 10.0)),
    ),
    # 4 %: 96 W; on shore power nothing is emptied
    "large-load-left-on": (
        lambda: habits((30, 10.0), (7, 130.0)),
        lambda: habits((30, 10.0), (7, 130.0), drained=False),
    ),
    "halves-apart": (lambda: halved(0.04, "float"), lambda: halved(0.04, "absorption")),
    "cells-apart": (lambda: celled(3.26, 3.33), lambda: celled(3.36, 3.55)),
    # 3 % of 12 V at 40 A: 9 milliohm
    "lead-drop-high": (lambda: led(11.0), lambda: led(8.5)),
}
