"""A feed made by hand: snapshots are put in, time moves when a test says so."""

from __future__ import annotations

import asyncio
import math
from collections.abc import AsyncIterator
from dataclasses import replace

from adapters.reading import Command, Quantity
from monitor.bank import Bank, Site, Source, SourceKind
from monitor.chemistries import CHEMISTRIES
from monitor.engine.duration import duration
from monitor.engine.outlook import Outlook
from monitor.engine.parts import Item, Part
from monitor.engine.said import Said
from monitor.engine.snapshot import (
    AlarmState,
    AlarmView,
    BankView,
    ChargeView,
    Estimate,
    Event,
    Fact,
    ForecastView,
    Interval,
    LinkView,
    Measured,
    Priority,
    SetPointView,
    Snapshot,
    SourceView,
    Stage,
    StageView,
)
from monitor.link_counts import LinkCount
from monitor.trend import Column, Trend
from tests.monitor.engine.outlooks import every_hour, known, sunny

HOUR = 3600.0
#: 2026-05-05 12:32:00 UTC at the sample's 100,000 s.
OFFSET = 1777984320.0 - 100_000.0

SITE = Site(
    banks=(
        Bank("house", CHEMISTRIES["flooded"], 24, 400.0, lowest_soc=0.5),
        Bank("winch", CHEMISTRIES["agm"], 12, 90.0),
    ),
    sources=(
        Source("shore", "house", SourceKind.AC_CHARGER, 40.0),
        Source("roof", "house", SourceKind.SOLAR, 35.0),
    ),
)


def stage_view(
    stage: Stage, probability: float, since: float, words: str, second: Stage = Stage.FIXED
) -> StageView:
    rest = 1.0 - probability
    chances = dict.fromkeys(Stage, 0.0)
    chances[stage] = probability
    chances[second] += rest
    fact = Fact("held voltage", words)
    return StageView(stage, probability, tuple(chances[kind] for kind in Stage), since, (fact,))


HOUSE = BankView(
    id="house",
    chemistry="flooded",
    nominal_volts=24,
    amp_hours=400.0,
    lowest_soc=0.5,
    volts=Measured(28.72, 1.0),
    amps=Measured(18.4, 1.0),
    celsius=Measured(18.2, 4.0),
    load_amps=Measured(5.7, 1.0),
    set_points=SetPointView(Estimate(29.22, 0.05), Estimate(27.0, 0.05), Estimate(31.4, 0.1), 18.2),
    stage=stage_view(
        Stage.ABSORPTION,
        0.94,
        95_680.0,
        "held 28.72 V for 12 min while current fell 31 to 18 A; "
        "compensated absorption set-point 28.8 V",
    ),
    charge=ChargeView(
        soc=Estimate(0.871, 0.014),
        capacity_amp_hours=Estimate(372.0, 9.0),
        stored_amp_hours=Estimate(324.0, 9.4),
        sensor_offset_amps=Estimate(0.06, 0.03),
        milliohms=Estimate(7.4, 0.6),
        last_full_seconds=21_000.0,
        evidence=(Fact("counted", "212 Ah in and 174 Ah out since last full"),),
    ),
    forecast=ForecastView(
        to_full=Interval(9_700.0, 7_300.0, 12_500.0),
        left=Interval(None, None, None, "the bank is being charged"),
        assumptions=("the source keeps giving what it gave in the last quarter hour",),
    ),
    warnings=(),
)

WINCH = replace(
    HOUSE,
    id="winch",
    chemistry="agm",
    nominal_volts=12,
    amp_hours=90.0,
    lowest_soc=None,
    volts=Measured(13.42, 1.0),
    amps=Measured(0.3, 1.0),
    celsius=Measured(None, None, "no sensor"),
    load_amps=Measured(None, None, "no source is measured"),
    stage=stage_view(Stage.FLOAT, 0.997, 40_000.0, "held 13.42 V for 9 h at 0.3 A"),
    charge=replace(HOUSE.charge, soc=Estimate(0.995, 0.006)),
    forecast=ForecastView(
        Interval(None, None, None, "full since 21:10"),
        Interval(None, None, None, "nothing is drawn"),
        (),
    ),
)

SOURCES = (
    SourceView(
        "shore", "house", "ac-charger", 40.0, Measured(28.9, 1.0), Measured(21.3, 1.0), 0.5325,
        "absorption", None,
    ),
    SourceView(
        "roof", "house", "solar", 35.0, Measured(None, None, "not measured"), Measured(2.8, 1.0),
        0.08, None, None,
    ),
)  # fmt: skip

LINKS = (
    LinkView("shunt", True, "", 1.0, 60.0),
    LinkView("charger", True, "", 1.0, 60.0),
)

NORMAL = Snapshot(100_000.0, OFFSET, (HOUSE, WINCH), SOURCES, LINKS, (), 12)

HOT = AlarmView(
    name="bank-hot",
    target="house",
    state=AlarmState.UNACKNOWLEDGED,
    priority=Priority.HIGH,
    words="bank above 50 °C and still charging",
    since_seconds=99_400.0,
    causes=("ventilation blocked", "charge current too high for the heat"),
    first="stop charging: open the charger's AC supply",
    caution="hot electrolyte gasses: no flame, no spark, keep your face away",
    evidence=(Fact("limit", "51 °C for 3 min, limit 50 °C"),),
)
LOW = AlarmView(
    name="halves-apart",
    target="house",
    state=AlarmState.ACKNOWLEDGED,
    priority=Priority.LOW,
    words="half-bank voltages differ by 0.4 V",
    since_seconds=90_000.0,
    causes=("a weak battery in one half",),
    first="measure each battery at rest",
    caution="",
    evidence=(),
)


def silent(snapshot: Snapshot, age: float, reason: str) -> Snapshot:
    """The same, with the shunt of the house bank gone for `age` seconds, `reason` being what its
    adapter says; of the figures themselves the engine says how old the last one is."""
    gone = Measured(None, age, f"shunt is silent, last {duration(age)} ago")
    house = replace(snapshot.banks[0], volts=gone, amps=gone, load_amps=gone)
    down = LinkView("shunt", False, reason, age, snapshot.seconds - age)
    return replace(snapshot, banks=(house, *snapshot.banks[1:]), links=(down, *snapshot.links[1:]))


def discharging(snapshot: Snapshot) -> Snapshot:
    house = replace(
        snapshot.banks[0],
        volts=Measured(24.6, 1.0),
        amps=Measured(-6.24, 1.0),
        load_amps=Measured(6.24, 1.0),
        stage=stage_view(
            Stage.DISCHARGE, 0.71, 98_800.0, "6 A drawn and no source gives", Stage.REST
        ),
        forecast=ForecastView(
            Interval(None, None, None, "no source gives"),
            Interval(38_000.0, 30_000.0, 52_000.0),
            ("loads as in the last nights",),
        ),
    )
    idle = tuple(
        replace(source, amps=Measured(0.0, 1.0), share=0.0, reported_stage=None)
        for source in snapshot.sources
    )
    return replace(snapshot, banks=(house, *snapshot.banks[1:]), sources=idle)


def sample_column(seconds: float) -> Column:
    """A day as it might be: night loads, shore power from the 92,000th second, taper."""
    if 84_000 <= seconds < 84_900:
        return Column(seconds)
    if seconds < 92_000:
        amps = -6.0 - 3.0 * math.sin(seconds / 900.0) ** 2 - (14.0 if seconds % 5400 < 300 else 0)
        volts, stage = 24.9 - (seconds - 70_000) / 30_000 + amps * 0.02, Stage.DISCHARGE
        soc = 0.78 - (seconds - 70_000) / 22_000 * 0.2
    elif seconds < 95_680:
        share = (seconds - 92_000) / 3_680
        amps, volts, stage = 34.0, 26.2 + 2.5 * share**1.5, Stage.BULK
        soc = 0.58 + 0.13 * share
    else:
        fade = math.exp(-(seconds - 95_680) / 5_000)
        amps, volts, stage = 34.0 * fade + 3.0, 28.72, Stage.ABSORPTION
        soc = 0.71 + 0.16 * (seconds - 95_680) / 4_320
    return Column(
        seconds, volts, volts - 0.05, volts + 0.05, amps, amps - 0.5, amps + 0.5, 18.0, soc, stage
    )


COUNTS = (
    LinkCount("shunt", 5_120, 3, 0.042, 0.31, "no answer within 1 s", 4_000.0),
    LinkCount("charger", 2_560, 0, 0.055, 0.12, "", None),
)


def _ac(quantity: Quantity, figure: float) -> Said:
    return Said("charger", "shore", None, quantity, figure, 1.0)


SAID = (
    _ac(Quantity.AC_VOLTS, 118.4),
    _ac(Quantity.AC_AMPS, 5.9),
    _ac(Quantity.AC_HERTZ, 60.0),
    Said("shunt", "house", None, Quantity.UPPER_HALF_VOLTS, 14.31, 1.0),
    Said("shunt", "house", None, Quantity.LOWER_HALF_VOLTS, 14.41, 1.0),
)

#: 400 Ah of lead at 24 V in the evening: a usual load, a roof, a charger of 40 A.
OUTLOOK = replace(
    known("flooded", 0.871, amp_hours=400.0, soc_sd=0.014, sources=SITE.sources),
    bank=SITE.banks[0],
    seconds=100_000.0,
    wall_offset=OFFSET,
    load=every_hour(140.0, 30.0),
    sun=sunny(400.0, 8, 16, 120.0),
)


class FakePlayer:
    """Player controls that only remember what was asked."""

    def __init__(self) -> None:
        self.start, self.end, self.position = 0.0, 259_200.0, 100_000.0
        self.paused, self.rate = False, 60.0
        self.catching_up = False
        self.steps = 0

    def pause(self) -> None:
        self.paused = True

    def resume(self) -> None:
        self.paused = False

    def set_rate(self, rate: float) -> None:
        self.rate = rate

    def seek(self, seconds: float) -> None:
        self.position = seconds

    def step(self) -> None:
        self.steps += 1
        self.position += 1.0


class FakeFeed:
    """Give it snapshots with `put`; `end` ends it, `fail` breaks it."""

    def __init__(self, first: Snapshot | None = NORMAL, player: FakePlayer | None = None) -> None:
        self.site = SITE
        self.player = player
        self.sent: list[Command] = []
        self.happened: tuple[Event, ...] = ()
        self.known: Outlook | None = OUTLOOK
        self.counts = COUNTS
        self.trends_asked = 0
        self.started = self.stopped = False
        self._queue: asyncio.Queue[Snapshot | BaseException | None] = asyncio.Queue()
        if first is not None:
            self.put(first)

    def put(self, snapshot: Snapshot) -> None:
        self._queue.put_nowait(snapshot)

    def end(self) -> None:
        self._queue.put_nowait(None)

    def fail(self, problem: BaseException) -> None:
        self._queue.put_nowait(problem)

    async def start(self) -> None:
        self.started = True

    async def stop(self) -> None:
        self.stopped = True

    async def snapshots(self) -> AsyncIterator[Snapshot]:
        while (item := await self._queue.get()) is not None:
            if isinstance(item, BaseException):
                raise item
            yield item

    def events(self, since: int) -> tuple[Event, ...]:
        return tuple(event for event in self.happened if event.number > since)

    def send(self, command: Command) -> None:
        self.sent.append(command)

    def trend(self, bank: str, window_seconds: float, columns: int) -> Trend:  # noqa: ARG002
        self.trends_asked += 1
        width = window_seconds / columns
        end = (math.floor(100_000.0 / width) + 1) * width
        start = end - window_seconds
        made = tuple(sample_column(start + index * width) for index in range(columns))
        return Trend(start, end, made)

    def outlook(self, bank: str) -> Outlook | None:  # noqa: ARG002
        return self.known

    def said(self, bank: str) -> tuple[Said, ...]:
        return tuple(each for each in SAID if bank == "house")

    def link_counts(self) -> tuple[LinkCount, ...]:
        return self.counts

    def explain(self, bank: str) -> tuple[Part, ...]:
        items = (Item(f"fraction of charge of {bank}", 0.871, "", 0.013),)
        return (Part("charge", "what the charge filter believes", items),)
