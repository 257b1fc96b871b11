"""Healthy coaches for a month: what does the tool cry?

    python -m tests.reference.healthy [DAYS]

Three simulated coaches in which nothing is wrong, their shunt read every five seconds with the
noise, steps and offset of common sensors: flooded on shore and sun (the sun makes a short
absorption on many mornings while the shore charger floats), AGM on a generator that is run some
hours a day, LFP on sun. No alarm of high priority may be told, and less than one of any kind a day.
Weather, loads and habits are invented.
"""

from __future__ import annotations

import math
import sys
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Final

from monitor.config import parse_config
from monitor.engine.engine import Engine
from monitor.engine.snapshot import AlarmState, EventKind, Priority
from replay.coach.config_text import config_text
from replay.coach.models import DeviceModel, LoadModel, SensorModel
from replay.coach.scenario import Scenario
from replay.coach.simulate import simulate
from replay.coach.stories import STORIES, shunt

DAY: Final = 24.0  # hours
DAYS: Final = 30
PERIOD: Final = 5.0
RAISED: Final = f"-> {AlarmState.UNACKNOWLEDGED}"
BIG: Final = LoadModel(
    "oven on the inverter", 1400.0, "bursts", (11.0, 19.0), minutes_on=8.0, times_a_day=1.0
)


def shore_and_sun(days: float, period: float) -> Scenario:
    """On shore but for two trips; the roof's absorption is higher than the shore's float."""
    story = STORIES["pinewater"]
    sources = tuple(
        replace(source, connected=((0.0, 220.0), (262.0, 500.0), (548.0, 1e6)))
        if source.id == "shore"
        else source
        for source in story.sources
    )
    loads = (*story.loads, BIG)
    return _month(story, days, period, sources=sources, loads=loads)


def generator(days: float, period: float) -> Scenario:
    """Four hours a day, ten on every seventh, from morning on."""
    story = STORIES["highfell"]
    runs = tuple(
        (DAY * day + 1.0, DAY * day + (11.0 if day % 7 == 0 else 5.0)) for day in range(400)
    )
    sources = tuple(replace(source, connected=runs) for source in story.sources)
    return _month(story, days, period, sources=sources)


def lithium_on_sun(days: float, period: float) -> Scenario:
    """The van stands; the engine runs two hours on every fifth day."""
    story = STORIES["saltmarsh"]
    runs = tuple((DAY * 5.0 * n + 4.0, DAY * 5.0 * n + 6.0) for n in range(1, 80))
    sources = tuple(
        replace(source, connected=runs) if source.id == "engine" else source
        for source in story.sources
    )
    return _month(story, days, period, sources=sources)


COACHES: Final[dict[str, Callable[[float, float], Scenario]]] = {
    "flooded, shore and sun": shore_and_sun,
    "AGM, generator": generator,
    "LFP, sun": lithium_on_sun,
}


def _month(story: Scenario, days: float, period: float, **more: object) -> Scenario:
    halves = story.bank.nominal_volts == 24
    meter = _offset(shunt(story.bank.nominal_volts, period, halves=halves))
    others = tuple(device for device in story.devices if device.name != "shunt")
    return replace(
        story,
        hours=DAY * days,
        faults=(),
        devices=(meter, *others),
        **more,  # type: ignore[arg-type]
    )


def _offset(meter: DeviceModel) -> DeviceModel:
    """A shunt that reads a little too much, as common ones do (0.1 % of 100 A)."""
    return replace(meter, sensors=tuple(_shifted(sensor) for sensor in meter.sensors))


def _shifted(sensor: SensorModel) -> SensorModel:
    return replace(sensor, offset=0.1) if sensor.quantity == "bank_amps" else sensor


@dataclass
class Month:
    """What was told in one coach's days; `rms` of the error of the state of charge."""

    name: str
    days: float
    inputs: int = 0
    raised: Counter[tuple[Priority, str]] = field(default_factory=Counter)
    when: list[tuple[float, str]] = field(default_factory=list)
    rms: float = 0.0

    @property
    def high(self) -> int:
        return sum(n for (priority, _), n in self.raised.items() if priority is Priority.HIGH)

    @property
    def a_day(self) -> float:
        return sum(self.raised.values()) / self.days


def lived(name: str, days: float = DAYS, period: float = PERIOD) -> Month:
    """Run one coach through the engine."""
    story = COACHES[name](days, period)
    site = parse_config(config_text(story), "coach.toml").site
    engine = Engine(site)
    month = Month(name, days)
    squares, count = 0.0, 0
    for inputs, truth in simulate(story):
        for each in inputs:
            month.inputs += 1
            for event in engine.step(each):
                if event.kind is EventKind.ALARM and RAISED in event.words:
                    month.raised[(event.priority, event.name)] += 1
                    month.when.append((event.seconds / 3600.0, f"{event.target}:{event.name}"))
        soc = engine.glance(site.banks[0].id).soc
        if soc is not None and truth.seconds > 86400.0:
            squares += (soc - truth.soc) ** 2
            count += 1
    month.rms = math.sqrt(squares / count) if count else math.nan
    return month


def table(months: list[Month]) -> str:
    lines = [
        "| coach | days | inputs | high | alarms a day | which | SOC rms, points |",
        "|---|---|---|---|---|---|---|",
    ]
    for month in months:
        which = ", ".join(
            f"{name} ({priority.name.lower()}) x{n}"
            for (priority, name), n in month.raised.most_common()
        )
        lines.append(
            f"| {month.name} | {month.days:g} | {month.inputs} | {month.high} | "
            f"{month.a_day:.2f} | {which or 'none'} | {100.0 * month.rms:.2f} |"
        )
    return "\n".join(lines)


def main(arguments: list[str]) -> int:
    days = float(arguments[0]) if arguments else float(DAYS)
    with ProcessPoolExecutor(2) as pool:
        months = list(pool.map(partial(lived, days=days), COACHES))
    print(table(months))
    for month in months:
        for hours, words in month.when:
            print(f"  {month.name}: {hours:7.2f} h {words}")
    return int(any(month.high or month.a_day >= 1.0 for month in months))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
