"""The simulated installer: does what each check asks, reads meters that err, answers in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from tests.monitor.commission.errands import Errands
from tests.monitor.commission.hands import Wait

#: In the coach, in this order; each is a method. Other places have other parts (`errands`).
PARTS: Final = (
    "papers",
    "instruments",
    "negatives",
    "temperatures",
    "dark",
    "alarms",
    "engine",
    "full_output",
    "night",
    "ice",
    "handing_over",
)


class Installer(Errands):
    def everything(self, last: str = "", parts: tuple[str, ...] = PARTS) -> Iterator[Wait]:
        """The whole of it, from the labels to the second morning, or up to a part of it."""
        for part in parts:
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
        for each in self.installation.breaking:
            self._enter("fuses", each.name, "yes")
        yield self._finished("fuses")
        self._begin("batteries")
        for each in self.installation.batteries:
            self._meter("batteries", each.name, "V", self.bench.plant.posts)
        yield self._finished("batteries")

    def instruments(self) -> Iterator[Wait]:
        bench = self.bench
        usual, bench.standing_watts = bench.standing_watts, 0.0
        bench.disconnected = True
        yield 300.0
        self._begin("voltmeter")
        yield 30.0
        self._meter("voltmeter", "meter", "V", bench.plant.posts)
        yield self._finished("voltmeter")
        self._begin("shunt-zero")
        self._say("shunt-zero", "done", "")
        yield self._finished("shunt-zero")
        bench.standing_watts = usual
        bench.disconnected = False
        yield 10.0
        self._begin("polarity")
        yield 60.0
        bench.loads("water heater")
        yield self._finished("polarity")
        bench.loads()
        yield 30.0
        self._begin("scale")
        yield 60.0
        before = bench.plant.shunt_amps  # the clamp is zeroed there
        bench.loads("water heater")
        yield 30.0
        self._meter("scale", "clamp", "A", abs(bench.plant.shunt_amps - before))
        yield self._finished("scale")
        bench.loads()
        yield 30.0

    def negatives(self) -> Iterator[Wait]:
        for name in self.installation.large_loads:
            key = f"through-shunt@{name}"
            self._begin(key)
            yield 60.0
            self.bench.loads(name)
            yield 30.0
            self._meter(key, "clamp", "A", self.bench.amps_of(name))
            yield self._finished(key)
            self.bench.loads()
            yield 60.0
        for name in self.sources:
            key = f"through-shunt@{name}"
            self._begin(key)
            yield 60.0
            before = self.bench.amps_of(name)
            self.bench.sources(name)
            yield 40.0
            yield from self._steady(name)
            self._meter(key, "clamp", "A", self.bench.amps_of(name) - before)
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
        for name in self.sources:
            key = f"probe@{name}"
            if not self._needed(key):
                continue
            self._begin(key)
            plugged = bench.probe_plugged or name != bench.main
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
        """Ignition off, idle until hot, full output, and both sources at once."""
        bench = self.bench
        self._begin("engine@engine")
        self._meter("engine@engine", "back-feed", "A", bench.amps_of("engine"))
        yield 20.0
        bench.sources("engine")
        yield self._finished("engine@engine")
        drop = bench.plant.source("engine").milliohms
        lugs = tuple(bench.lugs) if bench.main == "engine" else (0.1,) * 4
        yield from self._at_full("engine", drop, lugs)
        if not self._needed("sharing"):
            return
        self._begin("sharing")
        bench.sources("shore", "engine")
        yield self._finished("sharing")

    def full_output(self) -> Iterator[Wait]:
        bench = self.bench
        bench.sources("shore")
        lugs = tuple(bench.lugs)
        yield from self._at_full("shore", bench.lead_milliohms + sum(lugs), lugs)
        yield from self.strings()
        self._begin("ac-input@shore")
        yield 30.0
        supply = bench.plant.supply
        assert supply is not None
        self._enter_ac("ac-input@shore", "volts", f"{supply.volts:.1f}")
        self._enter_ac("ac-input@shore", "amps", f"{supply.amps:.2f}")
        self._enter_ac("ac-input@shore", "factor", f"{supply.factor:.2f}")
        yield self._finished("ac-input@shore")
        self._begin("ac-polarity")
        self._enter("ac-polarity", "tester", "yes" if bench.tester_right else "no")
        yield self._finished("ac-polarity")
        self._begin("ripple@shore")
        yield 30.0
        self._meter("ripple@shore", "ripple", "mV", 45.0)
        yield self._finished("ripple@shore")

    def night(self) -> Iterator[Wait]:
        """Nothing to do: float, or its absence, completes itself."""
        for _ in range(15):
            yield self._finished("float@shore")
        yield self._finished("taper@shore")

    def ice(self) -> Iterator[Wait]:
        bench = self.bench
        for name in self.sources:
            key = f"compensation@{name}"
            if not self._needed(key):
                continue
            bench.sources(name)
            yield from self._while_it_can(name)
            yield 1800.0
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
