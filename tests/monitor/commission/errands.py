"""What an installer does in other places than the coach: mains, generator, sun, another bank."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from tests.monitor.commission.bench import LEG_OHMS, OPEN_OHMS
from tests.monitor.commission.hands import Hands, Wait

#: W/m2 below which it is night to a panel, and above which a cable's drop can be measured.
_DARK: Final = 1.0
_BRIGHT: Final = 800.0


class Errands(Hands):
    def dark(self) -> Iterator[Wait]:
        """What each source takes back while it gives nothing."""
        bench = self.bench
        for name in self.sources:
            key = f"back-feed@{name}"
            if not self._needed(key):
                continue
            self._begin(key)
            yield 30.0
            self._meter(key, "back-feed", "A", bench.amps_of(name))
            self._meter(key, "case", "°C", bench.case_of(name))
            self._meter(key, "air", "°C", bench.plant.sky.indoor_celsius)
            yield self._finished(key)

    def mains(self) -> Iterator[Wait]:
        """The neutral, by a heater on one leg; what is found open is mended, and stays told."""
        bench = self.bench
        self._begin("neutral")
        one, other = bench.legs()
        self._enter("neutral", "leg 1", f"{one:.1f}")
        self._enter("neutral", "leg 2", f"{other:.1f}")
        yield self._finished("neutral")
        if bench.neutral_ohms >= OPEN_OHMS:
            bench.neutral_ohms = LEG_OHMS

    def generator(self) -> Iterator[Wait]:
        """On the generator, the change to it tested, and back."""
        bench = self.bench
        bench.sources("shore")
        bench.cord_in, bench.generator_runs = False, True
        yield 300.0
        self._begin("generator")
        yield 60.0
        supply = bench.plant.supply
        assert supply is not None
        self._enter_ac("generator", "volts", f"{supply.volts:.1f}")
        self._enter_ac("generator", "hertz", f"{supply.hertz:.1f}")
        self._say("generator", "done", "")
        yield self._finished("generator")
        bench.cord_in, bench.generator_runs = True, False
        yield 300.0
        self._begin("change-over")
        yield 30.0
        bench.cord_in, bench.generator_runs = False, True
        yield 120.0
        self._enter("change-over", "pins", "no" if bench.pins_live else "yes")
        yield 10.0
        bench.generator_runs = False
        yield 20.0
        bench.cord_in = True
        self._say("change-over", "done", "")
        yield self._finished("change-over")
        bench.change_sticks = False  # somebody turns the switch by hand

    def combiner_out(self) -> Iterator[Wait]:
        """The other bank stays away while currents are compared."""
        second = self.bench.plant.second
        assert second is not None
        second.out = True
        yield 5.0

    def second_bank(self) -> Iterator[Wait]:
        bench, key = self.bench, "both-banks"
        second = bench.plant.second
        assert second is not None
        second.out = False
        bench.sources()
        yield 60.0
        self._begin(key)
        self._meter(key, "before", "V", second.posts)
        bench.sources("shore")
        yield 900.0
        self._meter(key, "after", "V", second.posts)
        bench.sources()
        bench.loads("inverter")
        yield 600.0
        self._meter(key, "parted", "A", second.amps)
        yield self._finished(key)
        bench.loads()
        second.out = True  # the course of the charge is this bank's own
        yield 60.0

    def sunny(self) -> Iterator[Wait]:
        """The sun alone: the clamp, the cable at its noon, then as many days as it takes, and a
        night between to see what is taken back."""
        bench, sky = self.bench, self.bench.plant.sky
        bench.sources("sun")
        yield 120.0
        for _ in range(20):
            self._begin("solar@sun")
            yield 70.0
            self._meter("solar@sun", "clamp", "A", bench.amps_of("sun"))
            yield self._finished("solar@sun")
            if not self._undone("solar@sun"):
                break
            yield 120.0  # a cloud passed
        yield lambda: sky.irradiance > _BRIGHT
        lugs = tuple(bench.lugs)
        yield from self._at_full("sun", bench.lead_milliohms + sum(lugs), lugs)
        yield from self.strings()
        for _ in range(16):
            yield lambda: sky.irradiance < _DARK
        yield 3600.0
        yield from self.dark()
        for _ in range(60):
            yield self._finished("float@sun")

    def guard(self) -> Iterator[Wait]:
        bench = self.bench
        for each in self.installation.protection:
            key = f"protection@{each.name}"
            self._begin(key)
            bench.loads("inverter")
            yield 30.0
            bench.open_guard(True)
            yield 30.0
            self._enter(key, "opened", "yes")
            bench.open_guard(False)
            yield 30.0
            self._enter(key, "closed", "yes")
            yield self._finished(key)
            bench.loads()
            yield 60.0

    def drive(self) -> Iterator[Wait]:
        """A long day behind the wheel, until float is seen."""
        self.bench.sources("engine")
        yield from self.strings()
        for _ in range(15):
            yield self._finished("float@engine")

    def _steady(self, name: str) -> Iterator[Wait]:
        """Nobody reads a clamp while a cloud passes."""
        for _ in range(30 if name == "sun" else 0):
            before = self.bench.amps_of(name)
            yield 40.0
            if abs(self.bench.amps_of(name) - before) < 0.02 * before:
                return

    def _while_it_can(self, name: str) -> Iterator[Wait]:
        """The sun gives enough near its noon only."""
        sky = self.bench.plant.sky
        if name == "sun":
            for _ in range(24):
                yield lambda: sky.irradiance > _BRIGHT
            yield 3600.0
