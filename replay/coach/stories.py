"""The coaches we tell of, by name. All are invented, people and places too.

Each is a whole coach for `python -m replay.coach NAME`; three of them, at their own length, are the
shipped demonstration captures. Wiring figures are common practice: 2 to 6 milliohm from a charger
to the posts and back, 5 to 8 mV of noise at 12 V, shunts that resolve a tenth of an amp.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Final

from replay.coach.faults import FAULTS
from replay.coach.models import (
    BankModel,
    DeviceModel,
    LoadModel,
    ProtectionModel,
    SensorModel,
    Settings,
    SourceModel,
    SupplyModel,
    Weather,
)
from replay.coach.scenario import Onset, Scenario


def shunt(bank_volts: int, period: float = 5.0, halves: bool = False) -> DeviceModel:
    """A shunt with a voltage input and a sensor on a battery's case."""
    scale = bank_volts / 12.0
    sensors: tuple[SensorModel, ...] = (
        SensorModel("bank_volts", noise=0.005 * scale, step=0.01),
        SensorModel("bank_amps", noise=0.06, step=0.1),
        SensorModel("bank_celsius", noise=0.12, step=0.5),
    )
    if halves:
        sensors += (
            SensorModel("lower_half_volts", noise=0.004 * scale, step=0.01),
            SensorModel("upper_half_volts", noise=0.004 * scale, step=0.01),
        )
    return DeviceModel("shunt", sensors, period, 0.0, "the shunt in the bank's negative lead")


def charger(name: str, source: str, ac: bool = False) -> DeviceModel:
    """A charger that tells its own volts, amps and stage, perhaps its AC side as well."""
    sensors: tuple[SensorModel, ...] = (
        SensorModel("source_volts", source, noise=0.006, step=0.01),
        SensorModel("source_amps", source, noise=0.08, step=0.1),
        SensorModel("reported_stage", source),
    )
    if ac:
        sensors += (
            SensorModel("ac_volts", source, noise=0.15, step=0.1),
            SensorModel("ac_amps", source, noise=0.03, step=0.1),
            SensorModel("ac_hertz", source, step=0.1),
            SensorModel("ac_power_factor", source, step=0.01),
        )
    return DeviceModel(name, sensors, 20.0, 1.7, f"the charger of source {source}")


def sun_regulator(name: str, source: str) -> DeviceModel:
    """A solar controller with its panel side."""
    sensors = (
        SensorModel("source_volts", source, noise=0.006, step=0.01),
        SensorModel("source_amps", source, noise=0.04, step=0.1),
        SensorModel("reported_stage", source),
        SensorModel("input_volts", source, noise=0.1, step=0.1),
    )
    return DeviceModel(name, sensors, 20.0, 3.2, f"the regulator of source {source}")


def cell_guard() -> DeviceModel:
    """A battery management system that shows its cells and its two sides."""
    sensors = (
        SensorModel("highest_cell_volts", noise=0.0008, step=0.001),
        SensorModel("lowest_cell_volts", noise=0.0008, step=0.001),
        SensorModel("lowest_cell_celsius", noise=0.1, step=0.5),
        SensorModel("charge_permitted", step=1.0),
        SensorModel("discharge_permitted", step=1.0),
    )
    return DeviceModel("cell-guard", sensors, 20.0, 4.1, "the bank's battery management")


#: What people aboard use at 12 V: watts and habits from memory of ordinary coaches.
HOUSE_LOADS: Final = (
    LoadModel("fridge", 55.0, "cycling", minutes_on=14.0, minutes_off=22.0),
    LoadModel("water pump", 70.0, "bursts", (6.5, 22.5), minutes_on=0.9, times_a_day=16.0),
    LoadModel("lights", 28.0, "evening", (19.5, 22.8)),
    LoadModel("screen", 45.0, "evening", (20.0, 22.5)),
    LoadModel("furnace fan", 75.0, "cycling", (22.0, 6.5), minutes_on=7.0, minutes_off=19.0),
    LoadModel("electronics", 6.0, "steady"),
    LoadModel("vent fan", 22.0, "evening", (12.0, 16.5)),
)

_FLOODED_COACH: Final = Scenario(
    name="pinewater",
    words="a 12 V flooded coach, three days: shore power, two days on the sun, shore again",
    bank=BankModel("house", "flooded", 12, 230.0, soc=0.62, celsius=17.0, lowest_soc=0.5),
    sources=(
        SourceModel(
            "shore",
            "ac-charger",
            45.0,
            Settings(
                absorption=14.6,
                float_=13.4,
                end_amps=4.6,
                end_seconds=120.0,
                absorption_hours=6.0,
                compensation_mv=-5.0,
                equalize=15.5,
                equalize_amps=10.0,
            ),
            milliohms=3.5,
            connected=((0.0, 14.5), (47.0, 1e6)),
        ),
        SourceModel(
            "roof",
            "solar",
            30.0,
            Settings(
                absorption=14.5,
                float_=13.4,
                end_amps=3.5,
                end_seconds=600.0,
                absorption_hours=3.0,
                compensation_mv=-5.0,
            ),
            milliohms=5.0,
            panel_watts=380.0,
        ),
    ),
    loads=(*HOUSE_LOADS, LoadModel("alarms and this tool", 3.8, hidden=True)),
    devices=(
        shunt(12, period=10.0),
        charger("shore-charger", "shore", ac=True),
        sun_regulator("roof-regulator", "roof"),
    ),
    weather=Weather(mean_celsius=16.0, swing_celsius=8.0, cloud=0.3),
    supply=SupplyModel(volts=119.0, hertz=60.0, ohms=0.35),
    faults=(Onset("absorption_never_ends", 46.0),),
    hours=72.0,
    seed=41,
    latitude=44.6,
    longitude=-110.5,
    standing_amps=0.3,
)

_LFP_VAN: Final = Scenario(
    name="saltmarsh",
    words="a 12 V LFP van: sun, a drive with a DC-DC charger, cells that are shown one by one",
    bank=BankModel("house", "lfp", 12, 280.0, soc=0.48, celsius=19.0, spread=0.004, lowest_soc=0.2),
    sources=(
        SourceModel(
            "engine",
            "dc-dc",
            50.0,
            Settings(absorption=14.2, float_=13.5, end_amps=9.0, absorption_hours=1.0),
            milliohms=2.5,
            sense=True,
            connected=((4.0, 7.2), (27.5, 29.0)),
        ),
        SourceModel(
            "roof",
            "solar",
            40.0,
            Settings(absorption=14.2, float_=13.5, end_amps=6.0, absorption_hours=1.5),
            milliohms=3.0,
            panel_watts=520.0,
        ),
    ),
    loads=(
        *HOUSE_LOADS[:4],
        LoadModel(
            "kettle on the inverter",
            1350.0,
            "bursts",
            (6.5, 20.0),
            minutes_on=4.0,
            times_a_day=3.0,
        ),
        LoadModel("work table", 65.0, "evening", (8.5, 17.0)),
        LoadModel("electronics", 8.0, "steady"),
    ),
    devices=(
        shunt(12),
        charger("engine-charger", "engine"),
        sun_regulator("roof-regulator", "roof"),
        cell_guard(),
    ),
    weather=Weather(mean_celsius=18.0, swing_celsius=6.0, cloud=0.25),
    protection=ProtectionModel(),
    hours=48.0,
    seed=7,
    start_unix=1_778_479_200.0,  # 2026-05-11 06:00 UTC
    latitude=51.3,
    longitude=1.2,
)

_AGM_COACH: Final = Scenario(
    name="highfell",
    words="a 24 V AGM coach in the cold: generator, then shore with a low hold, an inverter",
    bank=BankModel("house", "agm", 24, 220.0, soc=0.66, celsius=9.0, lowest_soc=0.5),
    sources=(
        SourceModel(
            "charger",
            "ac-charger",
            50.0,
            Settings(
                absorption=28.8,
                float_=27.2,
                end_amps=2.2,
                end_seconds=300.0,
                absorption_hours=8.0,
                compensation_mv=-4.0,
                low_hold=26.4,
                low_hold_after_hours=10.0,
            ),
            milliohms=3.0,
            sense=True,
            connected=((1.0, 3.5), (9.0, 1e6)),
        ),
    ),
    loads=(
        LoadModel("fridge", 60.0, "cycling", minutes_on=15.0, minutes_off=25.0),
        LoadModel("water pump", 90.0, "bursts", (6.5, 22.5), minutes_on=1.0, times_a_day=14.0),
        LoadModel("lights", 35.0, "evening", (17.5, 22.5)),
        LoadModel("furnace fan", 80.0, "cycling", (18.0, 7.0), minutes_on=9.0, minutes_off=12.0),
        LoadModel(
            "hob on the inverter", 1700.0, "bursts", (17.0, 19.0), minutes_on=6.0, times_a_day=2.0
        ),
        LoadModel("electronics", 9.0, "steady"),
    ),
    devices=(shunt(24, period=10.0, halves=True), charger("charger", "charger", ac=True)),
    weather=Weather(mean_celsius=6.0, swing_celsius=5.0, cloud=0.6),
    supply=SupplyModel(volts=231.0, hertz=50.0, ohms=0.5),
    hours=42.0,
    seed=19,
    start_unix=1_793_520_000.0,  # 2026-11-01 08:00 UTC
    latitude=54.4,
    longitude=-3.1,
)

#: A coach for checks of protection and wiring on AGM, kept short and simple: one charger, one load.
_BENCH: Final = Scenario(
    name="bench",
    words="a 12 V AGM bank on a bench: one charger, a load now and then",
    bank=BankModel("house", "agm", 12, 100.0, soc=0.6, celsius=20.0),
    sources=(
        SourceModel(
            "charger",
            "ac-charger",
            20.0,
            Settings(14.4, 13.6, end_amps=0.8, compensation_mv=-4.0),
            milliohms=4.0,
            connected=((0.5, 1e6),),
        ),
    ),
    loads=(LoadModel("lamp", 60.0, "cycling", minutes_on=20.0, minutes_off=70.0),),
    devices=(shunt(12), charger("charger", "charger")),
    weather=Weather(mean_celsius=20.0, swing_celsius=3.0),
    hours=24.0,
    seed=3,
)

#: Two equal chargers on one bank, for checks of how they share.
_PAIR: Final = Scenario(
    name="twofold",
    words="a 12 V AGM bank on two equal chargers",
    bank=BankModel("house", "agm", 12, 300.0, soc=0.5, celsius=20.0),
    sources=tuple(
        SourceModel(
            name,
            "ac-charger",
            40.0,
            Settings(14.4, 13.6, end_amps=1.5, compensation_mv=-4.0),
            milliohms=3.0,
        )
        for name in ("left", "right")
    ),
    loads=HOUSE_LOADS[:2],
    devices=(shunt(12), charger("left-charger", "left"), charger("right-charger", "right")),
    weather=Weather(mean_celsius=20.0, swing_celsius=3.0),
    hours=24.0,
    seed=5,
)

#: Nobody aboard, nearly nothing on: what appears now stands out.
_LAID_UP: Final = Scenario(
    name="barnstand",
    words="a 12 V flooded coach laid up in a barn's yard: a small panel, nobody aboard",
    bank=BankModel("house", "flooded", 12, 200.0, soc=0.93, celsius=8.0, lowest_soc=0.5),
    sources=(
        SourceModel(
            "panel",
            "solar",
            10.0,
            Settings(14.6, 13.4, end_amps=1.5, absorption_hours=2.0, compensation_mv=-5.0),
            panel_watts=50.0,
        ),
    ),
    loads=(LoadModel("clock and alarm", 2.0, "steady"),),
    devices=(shunt(12, period=10.0), sun_regulator("panel-regulator", "panel")),
    weather=Weather(mean_celsius=8.0, swing_celsius=6.0, cloud=0.5),
    hours=72.0,
    seed=13,
    start_unix=1_792_972_800.0,  # 2026-10-26 00:00 UTC
    latitude=47.2,
    longitude=11.0,
)

STORIES: Final[Mapping[str, Scenario]] = MappingProxyType(
    {story.name: story for story in (_FLOODED_COACH, _LFP_VAN, _AGM_COACH, _LAID_UP, _PAIR, _BENCH)}
)


def with_only(fault: str) -> Scenario:
    """The coach that suits a fault, with that fault and no other."""
    return replace(STORIES[FAULTS[fault].story], faults=(Onset(fault),))
