"""Hands, meters and words: what every simulated installer has.

A script is a generator. It yields seconds to wait, or a condition to wait for; between two yields
it moves its hands (knobs of the bench) and talks (`say`). Meters have an error drawn once for each
run, within what their sheet allows, and show so many digits.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from random import Random

from monitor.commission.item import Phase
from monitor.commission.procedure import Procedure
from monitor.commission.record import Instrument, Verdict
from tests.monitor.commission.bench import Bench

Say = Callable[[str, str, str], None]
Wait = float | Callable[[], bool]


class Meters:
    """Hand-held meters: a gain error and a rounding for each unit."""

    def __init__(self, seed: int, instruments: tuple[Instrument, ...]) -> None:
        random = Random(f"meters/{seed}")
        self._gain = {
            each.unit: random.uniform(-1.0, 1.0) * (each.share or 0.0) for each in instruments
        }
        self._celsius = random.uniform(-1.0, 1.0)
        self._steps = {"V": 0.01, "mV": 0.1, "A": 0.1, "°C": 0.5}

    def read(self, unit: str, true: float) -> str:
        step = self._steps[unit]
        shown = true * (1.0 + self._gain[unit]) + (self._celsius if unit == "°C" else 0.0)
        return f"{round(shown / step) * step:.2f} {unit}"


class Hands:
    """Talk, meters, and waiting for a check to finish."""

    def __init__(self, bench: Bench, procedure: Procedure, say: Say, seed: int) -> None:
        self.bench, self.procedure = bench, procedure
        self.installation = procedure.setting.installation
        self.meters = Meters(seed, self.installation.instruments)
        self._say = say

    @property
    def sources(self) -> tuple[str, ...]:
        return tuple(each.id for each in self.procedure.setting.sources)

    def _needed(self, key: str) -> bool:
        item = self.procedure.item(key)
        return item is not None and not item.needless

    def _undone(self, key: str) -> bool:
        item = self.procedure.item(key)
        return item is None or item.last is None or item.last.verdict is Verdict.NOT_DONE

    def _begin(self, key: str) -> None:
        self._say(key, "begin", "")

    def _enter(self, key: str, name: str, text: str) -> None:
        self._say(key, "enter", f"{name} = {text}")

    def _meter(self, key: str, name: str, unit: str, true: float) -> None:
        self._enter(key, name, self.meters.read(unit, true))

    def _enter_ac(self, key: str, name: str, text: str) -> None:
        """By a meter, unless the charger tells it."""
        item = self.procedure.item(key)
        if item is not None and name not in item.told:
            self._enter(key, name, text)

    def _finished(self, key: str) -> Callable[[], bool]:
        def over() -> bool:
            item = self.procedure.item(key)
            return item is None or item.phase is Phase.FINISHED

        return over

    def _until_done(self, key: str, hands: Callable[[], Iterator[Wait]]) -> Iterator[Wait]:
        """Begun again where it could not be judged: the sun went away meanwhile."""
        for _ in range(20):
            self._begin(key)
            yield from hands()
            yield self._finished(key)
            if not self._undone(key) or "sun" not in self.sources:
                return
            yield 300.0

    def strings(self) -> Iterator[Wait]:
        key, bench = "string-share", self.bench
        if not self._needed(key):
            return

        def clamp() -> Iterator[Wait]:
            for number, share in enumerate(bench.shares, start=1):
                self._meter(key, f"string {number}", "A", bench.plant.amps * share)
            yield from ()

        yield from self._until_done(key, clamp)

    def _at_full(self, name: str, milliohms: float, lugs: tuple[float, ...]) -> Iterator[Wait]:
        output, drop, each_lug = f"output@{name}", f"lead-drop@{name}", f"lugs@{name}"
        if self._needed(output):
            self._begin(output)
            yield self._finished(output)

        def legs() -> Iterator[Wait]:
            yield 30.0
            amps = self.bench.amps_of(name)
            self._meter(drop, "positive", "mV", amps * milliohms / 2.0)
            self._meter(drop, "negative", "mV", amps * milliohms / 2.0)

        def probes() -> Iterator[Wait]:
            yield 30.0
            item = self.procedure.item(each_lug)
            asks = item.asks if item is not None else ()
            for ask, lug in zip(asks, lugs, strict=True):
                self._meter(each_lug, ask.name, "mV", self.bench.amps_of(name) * lug)

        yield from self._until_done(drop, legs)
        yield from self._until_done(each_lug, probes)
