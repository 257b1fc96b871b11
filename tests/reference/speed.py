"""How fast the engine is, and where the time goes: one table, measured on this machine.

    python -m tests.reference.speed [CAPTURE ...]

Times are processor time of this process. Each figure is the best of several passes, stretch by
stretch, since whatever else a machine does can only slow a pass down; the yardstick, a plain loop
of the interpreter, lets two machines be compared. Forecasts are worked out anew at their own
cadence of reading time: what that costs is taken off where the table says so, and told beside it.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from adapters.reading import Input, Reading
from monitor.bank import Site
from monitor.engine import forecast
from monitor.engine.align import Alignment
from monitor.engine.charge import ChargeFilter
from monitor.engine.engine import Engine
from monitor.engine.features import Features
from monitor.engine.forecast import Forecast
from monitor.engine.rooms import BankRooms
from monitor.engine.scores import Scores
from monitor.engine.signal import Signal
from monitor.engine.source import SourceRoom
from monitor.engine.stage import StageFilter
from monitor.recorded import open_recorded
from tests.monitor.engine.captures import capture
from tests.monitor.recordings import shipped_path

ROOT: Final = Path(__file__).parents[2]
#: What engine.md asks for, without forecast refresh, on one core of a current desktop.
WANTED: Final = 50_000.0
PASSES: Final = 5
STRETCH: Final = 500
DEFAULT: Final = ("c01", "c08", "c17", "pinewater")
#: What has no place in the start-up of a small board.
HEAVY: Final = ("numpy", "scipy", "pandas", "numba", "jax", "torch")

#: The rooms that are timed, innermost first counted: what a room calls is not its own time.
ROOMS: Final[tuple[tuple[str, type, str], ...]] = (
    ("align", Alignment, "take"),
    ("signal", Signal, "update"),
    ("stage: features", Features, "update"),
    ("stage: scores", Scores, "update"),
    ("stage: filter", StageFilter, "update"),
    ("charge", ChargeFilter, "update"),
    ("forecast: following", Forecast, "update"),
    ("sources", SourceRoom, "add"),
    ("sources", SourceRoom, "update"),
    ("conditions, ten seconds", BankRooms, "_watch"),
    ("conditions and ledger, minute", BankRooms, "_minute"),
    ("the bank's other work", BankRooms, "step"),
    ("engine", Engine, "step"),
)
REFRESHES: Final = tuple(name for name in vars(Forecast) if name.startswith("_refresh"))


class Timers:
    """Own processor time of wrapped methods; `with` puts the classes back as they were."""

    def __init__(self, methods: Iterable[tuple[str, type, str]]) -> None:
        self._methods = tuple(methods)
        self._before: list[tuple[type, str, Any]] = []
        self._inner: list[float] = []
        self.own: dict[str, float] = {}
        self.longest: dict[str, float] = {}
        self.calls: dict[str, int] = {}

    def __enter__(self) -> Timers:
        for name, kind, method in self._methods:
            old = getattr(kind, method)
            self._before.append((kind, method, old))
            setattr(kind, method, self._timed(name, old))
        return self

    def __exit__(self, *_: object) -> None:
        for kind, method, old in self._before:
            setattr(kind, method, old)
        self._before.clear()

    def clear(self) -> None:
        self.own = {name: 0.0 for name, _, _ in self._methods}
        self.longest = dict(self.own)
        self.calls = {name: 0 for name, _, _ in self._methods}

    def _timed(self, name: str, old: Callable[..., Any]) -> Callable[..., Any]:
        clock = time.process_time

        def timed(*given: Any) -> Any:
            began = clock()
            self._inner.append(0.0)
            try:
                return old(*given)
            finally:
                took = clock() - began
                own = took - self._inner.pop()
                if self._inner:
                    self._inner[-1] += took
                self.own[name] += own
                self.calls[name] += 1
                self.longest[name] = max(self.longest[name], took)

        return timed


def inputs_of(name: str) -> tuple[Site, Sequence[Input]]:
    """A truth capture by the beginning of its name, or a shipped one by its name."""
    if shipped_path(name).exists():
        found = open_recorded(shipped_path(name))
        return found.site, list(found.recording.inputs())
    _, where, readings = capture(name)
    return where, readings


def stretches(inputs: Sequence[Input]) -> Iterator[Sequence[Input]]:
    for first in range(0, len(inputs), STRETCH):
        yield inputs[first : first + STRETCH]


def best_times(where: Site, inputs: Sequence[Input], passes: int = PASSES) -> tuple[float, float]:
    """Seconds for all inputs, and seconds of them that went into refreshing forecasts."""
    whole: list[float] = []
    refresh: list[float] = []
    methods = [("refresh", Forecast, name) for name in REFRESHES]
    with Timers(methods) as timers:
        for _ in range(passes):
            engine = Engine(where)
            took: list[float] = []
            spent: list[float] = []
            for stretch in stretches(inputs):
                timers.clear()
                began = time.process_time()
                for each in stretch:
                    engine.step(each)
                took.append(time.process_time() - began)
                spent.append(timers.own["refresh"])
            both = [(a - b, b) for a, b in zip(took, spent, strict=True)]
            if whole:
                whole = [min(old, a) for old, (a, _) in zip(whole, both, strict=True)]
                refresh = [min(old, b) for old, (_, b) in zip(refresh, both, strict=True)]
            else:
                whole, refresh = [a for a, _ in both], [b for _, b in both]
    return sum(whole) + sum(refresh), sum(refresh)


def by_room(where: Site, inputs: Sequence[Input]) -> Iterator[tuple[str, float]]:
    """Shares of one pass, each room's own, the timers' own cost taken off as well as it can be."""
    methods = [*ROOMS, *(("forecast: refresh", Forecast, name) for name in REFRESHES)]
    with Timers(methods) as timers:
        timers.clear()
        cost = _timer_cost(timers)
        timers.clear()
        engine = Engine(where)
        for each in inputs:
            engine.step(each)
        own = {name: max(0.0, t - cost * timers.calls[name]) for name, t in timers.own.items()}
    total = sum(own.values())
    yield from sorted(((n, t / total) for n, t in own.items()), key=lambda row: -row[1])


def _timer_cost(timers: Timers) -> float:
    """Seconds that one timed call that does nothing counts as its own."""
    timers.own["nothing"] = 0.0
    timers.longest["nothing"] = 0.0
    timers.calls["nothing"] = 0
    nothing = timers._timed("nothing", lambda: None)
    for _ in range(20_000):
        nothing()
    return timers.own["nothing"] / 20_000


def refresh_cost(where: Site, inputs: Sequence[Input]) -> tuple[int, float, float]:
    """How many forecasts were worked out, their mean and their longest, in seconds."""
    with Timers([("whole", Forecast, name) for name in REFRESHES[:1]]) as timers:
        timers.clear()
        engine = Engine(where)
        for each in inputs:
            engine.step(each)
    calls = timers.calls["whole"]
    return calls, timers.own["whole"] / max(1, calls), timers.longest["whole"]


def repeated(readings: Sequence[Reading], days: int) -> Iterator[list[Reading]]:
    """The same day again and again, each reading later by so many days."""
    for day in range(days):
        yield [replace(each, seconds=each.seconds + 86400.0 * day) for each in readings]


def history(days: int = 30, period: float = 20.0) -> list[tuple[int, float, int]]:
    """(day, seconds a reading without refresh, bytes of state) of a day lived again and again."""
    _, where, readings = capture("c01")
    due = 0.0
    day = []
    for each in readings:
        if due <= each.seconds < 86400.0:
            day.append(each)
            due = each.seconds + period
    engine = Engine(where)
    found = []
    with Timers([("refresh", Forecast, name) for name in REFRESHES]) as timers:
        for number, lived in enumerate(repeated(day, days), start=1):
            timers.clear()
            took = []
            for stretch in stretches(lived):
                spent = timers.own["refresh"]
                began = time.process_time()
                for each in stretch:
                    engine.step(each)
                spent = timers.own["refresh"] - spent
                took.append((time.process_time() - began - spent) / len(stretch))
            state = len(json.dumps(engine.state()))
            found.append((number, statistics.median(took), state))
    return found


def start_up(module: str, passes: int = 5) -> tuple[float, int, list[str]]:
    """Seconds to import a module in a fresh interpreter, how many modules, and heavy packages."""
    program = (
        "import sys, time; a = set(sys.modules); t = time.perf_counter(); "
        f"import {module}; t = time.perf_counter() - t; "
        "print(t); print(len(set(sys.modules) - a)); "
        f"print(*[m for m in {HEAVY!r} if m in sys.modules])"
    )
    times, modules, heavy = [], 0, ""
    for _ in range(passes):
        done = subprocess.run(
            [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True
        )
        seconds, count, heavy = (done.stdout + "\n").split("\n")[:3]
        times.append(float(seconds))
        modules = int(count)
    return min(times), modules, heavy.split()


def yardstick() -> float:
    """Turns a second of a loop with one multiplication, one addition and one attribute."""

    class Thing:
        figure = 0.0

    thing = Thing()
    best = float("inf")
    for _ in range(PASSES):
        began = time.process_time()
        for _ in range(200_000):
            thing.figure = thing.figure * 0.5 + 1.0
        best = min(best, time.process_time() - began)
    return 200_000 / best


def main(names: Sequence[str]) -> int:
    print(f"yardstick: {yardstick() / 1e6:.1f} million turns/s, Python {sys.version.split()[0]}")
    print(f"forecasts are refreshed every {forecast.REFRESH_SECONDS:.0f} s of reading time\n")
    print(f"{'capture':10} {'inputs':>7} {'inputs/s':>9} {'without refresh':>16} {'wanted':>8}")
    for name in names:
        where, inputs = inputs_of(name)
        whole, refresh = best_times(where, inputs)
        rate = len(inputs) / (whole - refresh)
        share = f"{rate / WANTED:.0%}"
        print(f"{name:10} {len(inputs):7} {len(inputs) / whole:9.0f} {rate:16.0f} {share:>8}")
    print(f"\n{'forecast refresh':24} {'times':>6} {'mean ms':>8} {'longest ms':>11}")
    for name in names:
        times, mean, longest = refresh_cost(*inputs_of(name))
        print(f"{name:24} {times:6} {1e3 * mean:8.2f} {1e3 * longest:11.2f}")
    print(f"\nown time by room, {names[0]}")
    for room, part in by_room(*inputs_of(names[0])):
        print(f"  {room:32} {part:6.1%}")
    print(f"\n{'the same day lived again':24} {'us/reading':>10} {'bytes of state':>15}")
    days = history()
    for number, seconds, state in (days[0], days[1], days[6], days[-1]):
        print(f"  day {number:<18} {1e6 * seconds:10.1f} {state:15}")
    print(f"\n{'start-up':24} {'ms':>6} {'modules':>8}  heavy packages")
    for module in ("monitor.engine.engine", "monitor.cli"):
        seconds, modules, heavy = start_up(module)
        print(f"  {module:22} {1e3 * seconds:6.0f} {modules:8}  {' '.join(heavy) or 'none'}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:] or DEFAULT))
