"""The looks of a live commissioning are settled by the inputs: whatever hands did, and whenever a
screen took them in, the recording gives every figure again to the last bit."""

from __future__ import annotations

import asyncio
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any, Final

import pytest

from adapters.adapter import Values
from adapters.reading import Channel, Command, Input, Quantity, Reading
from monitor.commission.look import LOOKS, look_of
from monitor.commission.procedure import Procedure
from monitor.commission.record import CommissionRecord, Evidence, Verdict
from monitor.commission.record_file import load_record
from monitor.commission.session import Session, evidence_of
from monitor.commission.setting import Setting
from monitor.config import parse_config
from monitor.engine.engine import Engine
from monitor.engine.look import look_at
from monitor.live import Live
from monitor.recorded import open_recorded
from monitor.report.again import differences, exact, look_again
from monitor.software import software
from replay.capture import CaptureWriter, open_capture
from tests.monitor.commission.coach import CONFIG, INSTALLATION, SITE
from tests.monitor.virtual_time import run_virtual, virtual_now

_SECONDS: Final = 600.0
_DEVICES: Final = """
[devices.shunt]
adapter = "scripted"
period_seconds = 1

[devices.charger]
adapter = "scripted"
period_seconds = 3
"""
#: What a person may say: checks that are judged within seconds, and what they ask.
_SAYINGS: Final = (
    ("shunt-zero", ("begin", "done")),
    ("polarity", ("begin",)),
    ("scale", ("begin", "enter clamp = {amps:.1f} A")),
    ("through-shunt@shore", ("begin", "enter clamp = {amps:.1f} A")),
    ("output@shore", ("begin",)),
    ("lead-drop@shore", ("begin", "enter positive = 62", "enter negative = 71")),
    ("lugs@shore", ("begin", "enter positive lug at the post = 4", "done")),
    ("string-share", ("begin", "enter string 1 = 21 A", "enter string 2 = 18 A")),
    ("standing-draw", ("begin", "done")),
    ("fuses", ("begin", "skip no torch at hand", "note the lid is stuck")),
)


class Coach:
    """Two devices on figures that hands move; their noise is drawn, as the hands are."""

    def __init__(self, seed: int) -> None:
        self.random = Random(seed)
        self.charger = 0.0
        self.load = 0.0

    @property
    def amps(self) -> float:
        return self.charger - self.load

    def shunt(self) -> Values:
        return (
            (Channel("house", Quantity.BANK_VOLTS), 12.7 + 0.01 * self.amps + self._noise(0.004)),
            (Channel("house", Quantity.BANK_AMPS), self.amps + self._noise(0.03)),
            (Channel("house", Quantity.BANK_CELSIUS), 19.0),
        )

    def source(self) -> Values:
        return (
            (Channel("shore", Quantity.SOURCE_VOLTS), 12.9 + self._noise(0.004)),
            (Channel("shore", Quantity.SOURCE_AMPS), self.charger + self._noise(0.03)),
        )

    def _noise(self, sd: float) -> float:
        return self.random.gauss(0.0, sd)


class Scripted:
    """A device that takes its time to answer."""

    def __init__(self, name: str, period: float, answer: Any, random: Random) -> None:
        self.name, self.period_seconds = name, period
        self._answer, self._random = answer, random

    async def open(self) -> None: ...

    async def poll(self) -> Values:
        await asyncio.sleep(self._random.uniform(0.01, 0.4))
        values: Values = self._answer()
        return values

    async def close(self) -> None: ...


async def _hands(coach: Coach, session: Session, random: Random) -> None:
    """A check after the other, and hands that cannot wait for its verdict."""
    while True:
        key, sayings = random.choice(_SAYINGS)
        for saying in sayings:
            word, _, rest = saying.format(amps=abs(coach.amps)).partition(" ")
            session.say(key, word, rest)
            for _ in range(random.randrange(3)):
                await asyncio.sleep(random.choice((0.3, 2.0, 9.0, 30.0)) * random.random())
                _move(coach, random)


def _move(coach: Coach, random: Random) -> None:
    if random.random() < 0.6:
        coach.charger = random.choice((0.0, 2.3, 12.0, 38.0, 40.0))
    else:
        coach.load = random.choice((0.0, 0.4, 30.0, 51.0))


async def _screen(live: Live, session: Session, random: Random) -> None:
    """A screen that stalls whenever it likes."""
    while True:
        session.take(live.snapshot())
        await asyncio.sleep(random.choice((0.05, 0.25, 1.0, 12.0)) * random.random())


def commissioned(
    seed: int,
    folder: Path,
    feed: Any = lambda live: live,
    lasts: float = _SECONDS,
    name: str = "coach.capture",
    killed: bool = False,
) -> CommissionRecord:
    """A live commissioning by restless hands, gone on with where a record lies. `feed` is what the
    session sees of the live one. `killed`: what was not on disk by then is not in the record."""
    folder.mkdir(parents=True, exist_ok=True)
    capture = folder / name
    before = load_record(folder / "coach.json")

    async def main() -> None:
        random, coach, loop = Random(seed), Coach(seed), asyncio.get_running_loop()
        began = virtual_now()
        live = Live(
            parse_config(CONFIG + _DEVICES, "coach.toml"),
            capture_path=capture,
            adapters=[
                Scripted("shunt", 1.0, coach.shunt, random),
                Scripted("charger", 3.0, coach.source, random),
            ],
            monotonic=loop.time,
            wall=lambda: (1.78e9 if before is None else 1.7801e9) + loop.time() - began,
        )
        setting = Setting(live.site, live.site.banks[0], INSTALLATION)
        procedure = Procedure(setting, before, software=software(), capture=capture.name)
        evidence = Evidence(capture.name)
        session = Session(feed(live), procedure, folder / "coach.json", evidence=evidence)
        tasks = [
            asyncio.create_task(each)
            for each in (
                live.acquire(),
                _screen(live, session, random),
                _hands(coach, session, random),
            )
        ]
        await asyncio.sleep(lasts)
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        if not killed:
            session.evidence = evidence_of(capture, 0.0, live.now())
            session.save()

    run_virtual(main())
    kept = load_record(folder / "coach.json")
    assert kept is not None
    return kept


def again(kept: CommissionRecord, capture: Path) -> CommissionRecord:
    return look_again(kept, open_recorded(capture), "coach.capture").record


def _live_is_replayed(seed: int, folder: Path) -> int:
    """How many tries were judged."""
    return _is_replayed(commissioned(seed, folder), folder)


def _is_replayed(kept: CommissionRecord, folder: Path) -> int:
    assert kept.looks == LOOKS
    assert exact(kept)
    found = again(kept, folder / "coach.capture")
    assert differences(kept, found) == ()
    assert found.outcomes == kept.outcomes
    assert found.extremes == kept.extremes
    assert found.coverage == kept.coverage
    assert found.clock == kept.clock
    judged = [t for o in kept.outcomes for t in o.attempts if t.verdict is not Verdict.NOT_DONE]
    return len(judged)


@pytest.fixture(scope="module")
def restless(tmp_path_factory: pytest.TempPathFactory) -> tuple[CommissionRecord, Path]:
    folder = tmp_path_factory.mktemp("restless")
    return commissioned(1, folder), folder


def test_whatever_hands_did_the_recording_gives_it_again(
    restless: tuple[CommissionRecord, Path],
) -> None:
    assert _is_replayed(*restless) >= 5


@pytest.mark.slow
def test_whatever_many_hands_did_the_recording_gives_it_again(tmp_path: Path) -> None:
    judged = sum(_live_is_replayed(seed, tmp_path / str(seed)) for seed in range(100, 160))
    assert judged >= 60 * 5


class OnlySnapshots:
    """A feed that cannot be followed, as feeds were once."""

    def __init__(self, live: Live) -> None:
        self._live = live
        self.events, self.send = live.events, live.send


def test_looks_at_moments_of_a_screen_cannot_be_repeated_and_are_told_as_such(
    tmp_path: Path,
) -> None:
    """What this is for: the same hands, judged when the screen came round to it."""
    kept = commissioned(1, tmp_path, OnlySnapshots, 300.0)
    assert kept.looks == ""
    marked = replace(kept, looks=LOOKS)
    assert differences(marked, again(marked, tmp_path / "coach.capture"))


@pytest.mark.parametrize("change", ["a figure of a reading", "a word", "a moment"])
def test_an_altered_recording_is_found(
    change: str, restless: tuple[CommissionRecord, Path], tmp_path: Path
) -> None:
    """Sealed anew, as by one who knows the format: only what it says can tell."""
    kept, folder = restless
    judged = [o for o in kept.outcomes if o.key == "scale" and o.figures]
    assert judged, "the hands of this seed judged no scale"
    at = judged[0].seconds
    assert at is not None
    recorded = open_capture(folder / "coach.capture")
    writer = CaptureWriter(tmp_path / "other.capture", recorded.header, 3600.0)
    for value in recorded.inputs():
        writer.append(_altered(value, change, at))
    writer.close()
    assert differences(kept, again(kept, tmp_path / "other.capture"))


def _altered(value: Input, change: str, at: float) -> Input:
    near = at - 20.0 <= value.seconds <= at
    match value:
        case Reading() if near and change == "a figure of a reading":
            values = tuple((c, f * 1.001 if isinstance(f, float) else f) for c, f in value.values)
            return replace(value, values=values)
        case Command(target="commission/scale") if change == "a word":
            return replace(value, note=value.note.replace("clamp = ", "clamp = 1"))
    return replace(value, seconds=value.seconds + 0.001) if near and change == "a moment" else value


def test_a_look_is_what_a_snapshot_shows(restless: tuple[CommissionRecord, Path]) -> None:
    _, folder = restless
    engine, seen = Engine(SITE), 0
    for number, value in enumerate(open_capture(folder / "coach.capture").inputs()):
        engine.step(value)
        if number % 50 == 0:
            look, shown = look_at(engine, "house"), look_of(engine.snapshot(), "house")
            assert sorted(look.alarms) == sorted(shown.alarms)
            assert look._replace(alarms=()) == shown._replace(alarms=())
            seen += look.volts is not None
    assert seen > 20
    assert look_at(engine, "nobody").volts is None
