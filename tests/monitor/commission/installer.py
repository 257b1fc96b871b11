"""The simulated installer: does what each check asks, reads meters that err, answers in words.

A script is a generator. It yields seconds to wait, or a condition to wait for; between two yields
it moves its hands (knobs of the bench) and talks (`say`). Meters have an error drawn once for each
run, within what their sheet allows, and show so many digits.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from random import Random
from typing import Final

from monitor.commission.item import Phase
from monitor.commission.procedure import Procedure
from tests.monitor.commission.coach import INSTALLATION, LOADS, Bench

Say = Callable[[str, str, str], None]
Wait = float | Callable[[], bool]

#: In this order; each is a method.
PARTS: Final = (
    "papers",
    "instruments",
    "negatives",
    "temperatures",
    "alarms",
    "engine",
    "full_output",
    "night",
    "ice",
    "handing_over",
)


class Meters:
    """Hand-held meters: a gain error and a rounding for each unit."""

    def __init__(self, seed: int) -> None:
        random = Random(f"meters/{seed}")
        self._gain = {
            each.unit: random.uniform(-1.0, 1.0) * (each.share or 0.0)
            for each in INSTALLATION.instruments
        }
        self._celsius = random.uniform(-1.0, 1.0)
        self._steps = {"V": 0.01, "mV": 0.1, "A": 0.1, "°C": 0.5}

    def read(self, unit: str, true: float) -> str:
        step = self._steps[unit]
        shown = true * (1.0 + self._gain[unit]) + (self._celsius if unit == "°C" else 0.0)
        return f"{round(shown / step) * step:.2f} {unit}"


class Installer:
    def __init__(self, bench: Bench, procedure: Procedure, say: Say, seed: int) -> None:
        self.bench, self.procedure, self.meters = bench, procedure, Meters(seed)
        self._say = say

    def _begin(self, key: str) -> None:
        self._say(key, "begin", "")

    def _enter(self, key: str, name: str, text: str) -> None:
        self._say(key, "enter", f"{name} = {text}")

    def _meter(self, key: str, name: str, unit: str, true: float) -> None:
        self._enter(key, name, self.meters.read(unit, true))

    def _finished(self, key: str) -> Callable[[], bool]:
        def over() -> bool:
            item = self.procedure.item(key)
            return item is None or item.phase is Phase.FINISHED

        return over

    def everything(self, last: str = PARTS[-1]) -> Iterator[Wait]:
        """The whole of it, from the labels to the second morning, or up to a part of it."""
        for part in PARTS:
            yield from getattr(self, part)()
            if part == last:
                return

    def papers(self) -> Iterator[Wait]:
        self._begin("identity")
        self._enter("identity", "labels", "yes")
        yield self._finished("identity")
        self._begin("cables")
        self._enter("cables", "crimps", "yes")
        yield self._finished("cables")
        self._begin("fuses")
        for each in INSTALLATION.breaking:
            self._enter("fuses", each.name, "yes")
        yield self._finished("fuses")
        self._begin("batteries")
        for each in INSTALLATION.batteries:
            self._meter("batteries", each.name, "V", self.bench.plant.posts)
        yield self._finished("batteries")

    def instruments(self) -> Iterator[Wait]:
        bench = self.bench
        usual, bench.standing_watts = bench.standing_watts, 0.0
        yield 300.0
        self._begin("voltmeter")
        yield 30.0
        self._meter("voltmeter", "meter", "V", bench.plant.posts)
        yield self._finished("voltmeter")
        self._begin("shunt-zero")
        self._say("shunt-zero", "done", "")
        yield self._finished("shunt-zero")
        bench.standing_watts = usual
        yield 10.0
        self._begin("polarity")
        yield 60.0
        bench.loads("water heater")
        yield self._finished("polarity")
        bench.loads()
        yield 30.0
        self._begin("scale")
        yield 60.0
        bench.loads("water heater")
        yield 30.0
        self._meter("scale", "clamp", "A", abs(bench.plant.shunt_amps))
        yield self._finished("scale")
        bench.loads()
        yield 30.0

    def negatives(self) -> Iterator[Wait]:
        for name in LOADS:
            key = f"through-shunt@{name}"
            self._begin(key)
            yield 60.0
            self.bench.loads(name)
            yield 30.0
            self._meter(key, "clamp", "A", self.bench.amps_of(name))
            yield self._finished(key)
            self.bench.loads()
            yield 60.0
        for name in ("shore", "engine"):
            key = f"through-shunt@{name}"
            self._begin(key)
            yield 60.0
            self.bench.sources(name)
            yield 40.0
            self._meter(key, "clamp", "A", self.bench.amps_of(name))
            yield self._finished(key)
            self.bench.sources()
            yield 120.0

    def temperatures(self) -> Iterator[Wait]:
        bench = self.bench
        self._begin("bank-sensor")
        yield 60.0
        self._meter("bank-sensor", "post", "°C", bench.plant.case_celsius)
        yield 10.0
        bench.warm_the_post()
        yield self._finished("bank-sensor")
        yield 900.0
        for name in ("shore", "engine"):
            key = f"probe@{name}"
            self._begin(key)
            plugged = bench.probe_plugged or name != "shore"
            shown = f"{bench.plant.case_celsius:.0f}" if plugged else "no"
            self._enter(key, "shown", shown)
            self._meter(key, "thermometer", "°C", bench.plant.case_celsius)
            yield self._finished(key)
        self._begin("standing-draw")
        self._say("standing-draw", "done", "")
        yield self._finished("standing-draw")

    def alarms(self) -> Iterator[Wait]:
        bench = self.bench
        pulls = (
            ("alarm@link", lambda out: bench.pull("shunt", out), 300.0),
            ("alarm@temperature", bench.pull_sensor, 1500.0),
        )
        for key, pull, seconds in pulls:
            self._begin(key)
            yield 30.0
            pull(True)
            yield seconds
            pull(False)
            yield self._finished(key)

    def engine(self) -> Iterator[Wait]:
        bench = self.bench
        self._begin("engine@engine")
        self._meter("engine@engine", "back-feed", "A", bench.amps_of("engine"))
        yield 20.0
        bench.sources("engine")
        yield self._finished("engine@engine")
        yield from self._at_full("engine", 3.0, (0.1, 0.1, 0.1, 0.1))
        self._begin("sharing")
        bench.sources("shore", "engine")
        yield self._finished("sharing")

    def _at_full(self, name: str, milliohms: float, lugs: tuple[float, ...]) -> Iterator[Wait]:
        key = f"output@{name}"
        self._begin(key)
        yield self._finished(key)
        key = f"lead-drop@{name}"
        self._begin(key)
        yield 30.0
        amps = self.bench.amps_of(name)
        self._meter(key, "positive", "mV", amps * milliohms / 2.0)
        self._meter(key, "negative", "mV", amps * milliohms / 2.0)
        yield self._finished(key)
        key = f"lugs@{name}"
        self._begin(key)
        yield 30.0
        item = self.procedure.item(key)
        asks = item.asks if item is not None else ()
        for ask, lug in zip(asks, lugs, strict=True):
            self._meter(key, ask.name, "mV", self.bench.amps_of(name) * lug)
        yield self._finished(key)

    def full_output(self) -> Iterator[Wait]:
        bench = self.bench
        bench.sources("shore")
        lugs = tuple(bench.lugs)
        yield from self._at_full("shore", bench.lead_milliohms + sum(lugs), lugs)
        self._begin("string-share")
        for number, share in enumerate(bench.shares, start=1):
            self._meter("string-share", f"string {number}", "A", bench.plant.amps * share)
        yield self._finished("string-share")
        self._begin("ac-input@shore")
        yield 30.0
        supply = bench.plant.supply
        assert supply is not None
        self._enter("ac-input@shore", "volts", f"{supply.volts:.1f}")
        self._enter("ac-input@shore", "amps", f"{supply.amps:.2f}")
        self._enter("ac-input@shore", "factor", f"{supply.factor:.2f}")
        yield self._finished("ac-input@shore")
        self._begin("ac-polarity")
        self._enter("ac-polarity", "tester", "yes")
        yield self._finished("ac-polarity")
        self._begin("ripple@shore")
        yield 30.0
        self._meter("ripple@shore", "ripple", "mV", 45.0)
        yield self._finished("ripple@shore")

    def night(self) -> Iterator[Wait]:
        """Nothing to do: float, or its absence, completes itself."""
        for _ in range(15):
            yield self._finished("float@shore")

    def ice(self) -> Iterator[Wait]:
        bench = self.bench
        for name in ("shore", "engine"):
            bench.sources(name)
            yield 1800.0
            key = f"compensation@{name}"
            self._begin(key)
            self._meter(key, "before", "°C", bench.plant.case_celsius)
            yield 120.0
            bench.probe_in_water = 2.0
            self._meter(key, "after", "°C", 2.0)
            yield self._finished(key)
            bench.probe_in_water = None
            yield 600.0

    def handing_over(self) -> Iterator[Wait]:
        self._begin("next-service")
        yield 30.0
        self._enter("next-service", "date", "usual")
        yield self._finished("next-service")
