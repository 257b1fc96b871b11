"""Coaches in which faults of charging and of the installation have time to show.

The stories are a day or three long and each with one cable, one charger, one habit. Faults that
need days, or AC that is seen, or a charger with a timer, get a coach of their own here; figures
as in the stories (common practice).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from replay.coach.models import (
    BankModel,
    DeviceModel,
    LoadModel,
    SensorModel,
    Settings,
    SourceModel,
    SupplyModel,
    Weather,
)
from replay.coach.scenario import Scenario
from replay.coach.stories import HOUSE_LOADS, STORIES, charger, shunt

BENCH: Final = STORIES["bench"]

#: The same bench with AC that its charger shows.
BENCH_WITH_AC: Final = replace(
    BENCH,
    name="bench-with-ac",
    supply=SupplyModel(volts=230.0, hertz=50.0),
    devices=(shunt(12), charger("charger", "charger", ac=True)),
)

#: The same with a timer that ends absorption, whatever the bank takes.
TIMED: Final = replace(
    BENCH,
    name="bench-timed",
    sources=(
        replace(
            BENCH.sources[0],
            settings=Settings(14.4, 13.6, end_amps=0.8, absorption_hours=4.0, compensation_mv=-4.0),
        ),
    ),
)


def slow_shunt() -> DeviceModel:
    """One that is polled seldom, for long runs."""
    return DeviceModel(
        "shunt",
        (
            SensorModel("bank_volts", noise=0.005, step=0.01),
            SensorModel("bank_amps", noise=0.06, step=0.1),
            SensorModel("bank_celsius", noise=0.12, step=0.5),
        ),
        20.0,
    )


#: Four days; ten hours on the charger in each, and a steady load besides: out by a third, and full.
DAILY: Final = replace(
    BENCH,
    name="daily",
    sources=(
        replace(
            BENCH.sources[0], connected=tuple((24.0 * d + 1.0, 24.0 * d + 11.0) for d in range(5))
        ),
    ),
    loads=(LoadModel("work table", 27.0),),
    devices=(slow_shunt(), charger("charger", "charger")),
    hours=100.0,
)

#: A week in float in a shed with warm days and cold nights; the fridge runs.
FLOATING: Final = replace(
    BENCH,
    name="floating",
    bank=replace(BENCH.bank, soc=0.9),
    loads=HOUSE_LOADS[:2],
    devices=(slow_shunt(), charger("charger", "charger")),
    weather=Weather(mean_celsius=14.0, swing_celsius=14.0, indoor_share=1.0),
    hours=84.0,
)

#: LFP in summer with a charger that floats it at 13.5 V.
HOT_LFP: Final = Scenario(
    name="hot-lfp",
    words="a 12 V LFP bank on shore power with nobody aboard",
    bank=BankModel("house", "lfp", 12, 200.0, soc=0.5, celsius=30.0),
    sources=(
        SourceModel(
            "shore", "ac-charger", 30.0, Settings(14.2, 13.5, end_amps=6.0, absorption_hours=1.0)
        ),
    ),
    loads=(LoadModel("clock", 6.0),),
    devices=(slow_shunt(),),
    weather=Weather(mean_celsius=24.0, swing_celsius=4.0),
    hours=300.0,
    seed=8,
)

#: A panel that never quite fills a large bank.
SUNNY: Final = Scenario(
    name="sunny",
    words="a 12 V LFP bank that lives on the sun",
    bank=BankModel("house", "lfp", 12, 300.0, soc=0.5, celsius=20.0),
    sources=(
        SourceModel(
            "roof",
            "solar",
            30.0,
            Settings(14.2, 13.5, end_amps=6.0, absorption_hours=1.0),
            panel_watts=200.0,
        ),
    ),
    loads=(LoadModel("electronics", 25.0),),
    devices=(
        slow_shunt(),
        DeviceModel(
            "roof-regulator",
            (
                SensorModel("source_volts", "roof", noise=0.006),
                SensorModel("source_amps", "roof", noise=0.04, step=0.1),
                SensorModel("reported_stage", "roof"),
            ),
            20.0,
            3.0,
        ),
    ),
    weather=Weather(mean_celsius=18.0, swing_celsius=6.0, cloud=0.2),
    hours=150.0,
    seed=4,
)

#: Three days at the end of which something appeared in a coach laid up.
LAID_UP: Final = STORIES["barnstand"]
