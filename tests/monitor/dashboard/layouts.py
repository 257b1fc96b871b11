"""Every screen as plain text at every size: `python -m tests.monitor.dashboard.layouts` writes them
into `golden`, to be read one by one before they are kept; `test_layouts` compares.

One feed made by hand, so that nothing the engine learns to do better moves a layout. Long pages
are there as they open.
"""

from __future__ import annotations

import asyncio
import sys
from dataclasses import replace
from pathlib import Path
from typing import Final
from unittest.mock import patch

from textual.pilot import Pilot

from monitor.commission.attended import Attended
from monitor.commission.installation_file import from_site
from monitor.commission.procedure import Procedure
from monitor.commission.session import Session
from monitor.commission.setting import Setting
from monitor.commission.table import CHECKS
from monitor.dashboard import app
from monitor.dashboard.actions import DEEDS
from monitor.dashboard.app import Dashboard
from monitor.dashboard.screens import devices
from monitor.dashboard.screens.commission import CommissionScreen
from monitor.dashboard.screens.tonight import TonightScreen
from monitor.engine.journal import MOVED
from monitor.engine.parts import Item, Part
from monitor.engine.snapshot import Event, EventKind, Learned, Priority, Snapshot
from monitor.words.devices import Found
from monitor.words.tonight import Asked
from tests.monitor.dashboard.fake_feed import (
    HOT,
    HOUSE,
    LOW,
    NORMAL,
    OFFSET,
    FakeFeed,
    FakePlayer,
    discharging,
    silent,
)
from tests.monitor.dashboard.screen_text import SIZES, press, running, settle, sized, text

GOLDEN: Final = Path(__file__).parent / "golden"
FEW_CHECKS: Final = 12
#: Turns of the loop that work in another thread may take; far more than it needs.
_TURNS: Final = 500

LEARNED: Final = (
    Learned("usable-capacity", "usable capacity", "Ah", 362.0, 11.0, 90_000.0, OFFSET),
    Learned("resistance", "the bank's own resistance", "mohm", 7.42, 0.31, 80_000.0, OFFSET),
    Learned("sensor-offset", "what the sensor shows", "A", 0.061, 0.03, 70_000.0, OFFSET),
    Learned("charge-efficiency", "share stored", "", 0.852, 0.019, None, None),
)
#: What is shown unless a screen is of something else: learned figures, and a week of events.
SHOWN: Final = replace(
    NORMAL, banks=(replace(HOUSE, learned=LEARNED), *NORMAL.banks[1:]), last_event=5
)
EVENTS: Final = tuple(
    Event(number, seconds, kind, name, target, priority, words)
    for number, (seconds, kind, name, target, priority, words) in enumerate(
        (
            (
                21_000.0,
                EventKind.LEARNED,
                "usable-capacity",
                "house",
                Priority.NONE,
                "362 Ah, was 371 Ah",
            ),
            (
                84_000.0,
                EventKind.LINK,
                "shunt",
                "shunt",
                Priority.NONE,
                "silent: no answer within 1 s",
            ),
            (92_000.0, EventKind.STAGE, "bulk", "house", Priority.NONE, f"discharge{MOVED}bulk"),
            (
                95_680.0,
                EventKind.STAGE,
                "absorption",
                "house",
                Priority.NONE,
                f"bulk{MOVED}absorption",
            ),
            (
                99_400.0,
                EventKind.ALARM,
                "bank-hot",
                "house",
                Priority.HIGH,
                f"normal{MOVED}unacknowledged",
            ),
        ),
        start=1,
    )
)
CHAIN: Final = (
    Part(
        "said",
        "what each device said last",
        (
            Item("volts of house from shunt", 28.72, "V", None, "", 1.0),
            Item("temperature of house from shunt", 18.2, "°C", None, "", 4.0),
        ),
    ),
    Part(
        "charge",
        "what the charge filter believes",
        (
            Item("fraction of charge of house", 0.871, "", 0.007),
            Item("usable capacity at 25 °C", 362.0, "Ah", 11.0),
            Item("current at which absorption may end", None, "A", None, "not seen yet"),
        ),
    ),
)


class LaidOut(FakeFeed):
    """The sample with a past."""

    def __init__(self, first: Snapshot = SHOWN, player: FakePlayer | None = None) -> None:
        super().__init__(first, player)
        self.happened = EVENTS

    def explain(self, bank: str) -> tuple[Part, ...]:
        return CHAIN if bank == "house" else ()


async def _taken(board: Dashboard, pilot: Pilot[int]) -> str:
    """The screen when nothing is being worked out for it."""
    for _ in range(_TURNS):
        await settle(pilot)
        if all(worker.is_finished for worker in board.workers):
            break
    await settle(pilot)
    return text(board) + "\n"


async def _live(size: tuple[int, int]) -> dict[str, str]:
    """The live screen in four states, then every screen that a key opens."""
    made: dict[str, str] = {}
    feed = LaidOut()
    async with running(feed, size) as (board, pilot):
        made["now"] = await _taken(board, pilot)
        for deed in (*(deed for deed in DEEDS if deed.screen), None):
            key, name = (deed.key, deed.action) if deed else ("y", "cautions")
            if name == "alarms":
                feed.put(replace(SHOWN, alarms=(HOT, LOW)))
                await settle(pilot)
            await press(pilot, key)
            made[name] = await _taken(board, pilot)
            await press(pilot, "y" if name == "cautions" else "x")
            if name == "alarms":
                made["now-alarm"] = await _taken(board, pilot)
                feed.put(SHOWN)
                await settle(pilot)
        for name, snapshot in (
            ("now-discharge", discharging(SHOWN)),
            ("now-silent", silent(SHOWN, 190.0, "no answer at the port")),
        ):
            feed.put(snapshot)
            made[name] = await _taken(board, pilot)
    return made


async def _playing(size: tuple[int, int]) -> dict[str, str]:
    """A capture that plays, and a line that is asked for."""
    async with running(LaidOut(player=FakePlayer()), size) as (board, pilot):
        made = {"now-playing": await _taken(board, pilot)}
        await press(pilot, "9")
        made["ask"] = await _taken(board, pilot)
        await pilot.press("enter")
        await press(pilot, "u")
        made["account-playing"] = await _taken(board, pilot)
    return made


async def _proving(size: tuple[int, int]) -> dict[str, str]:
    """A check before it is begun and while hands are at it, and the list of all."""
    feed = LaidOut()
    bank = feed.site.banks[0]
    # The first checks only: one more at the end of the table moves no layout.
    setting = Setting(feed.site, bank, from_site(feed.site, bank))
    procedure = Procedure(setting, checks=CHECKS[:FEW_CHECKS])
    session = Session(feed, procedure, None)
    made: dict[str, str] = {}
    async with running(Attended(feed, session), size) as (board, pilot):  # type: ignore[arg-type]
        await press(pilot, "x")
        board.push_screen(CommissionScreen("voltmeter"))
        await settle(pilot)
        board.redraw()
        made["commission-waits"] = await _taken(board, pilot)
        await press(pilot, "b")
        given, later = feed.sent[-1], SHOWN.seconds + 5
        words = f"{given.who}: {given.note}"
        name = str(given.action)
        word = Event(6, later, EventKind.COMMAND, name, given.target, Priority.NONE, words)
        feed.happened = (*EVENTS, word)
        feed.put(replace(SHOWN, seconds=later, last_event=6))
        made["commission-runs"] = await _taken(board, pilot)
        await press(pilot, "l")
        made["commission-list"] = await _taken(board, pilot)
    return made


async def every_layout(size: tuple[int, int]) -> dict[str, str]:
    """Each screen by its name."""
    machine = Found((), ("can0",), ("modbus-rtu",))
    with (
        patch.object(devices, "found", lambda: machine),
        # A machine that is busy with something else is no feed that fell silent.
        patch.object(app, "QUIET_SECONDS", 10**6),
        patch.object(TonightScreen, "asked", Asked()),
    ):
        return await _live(size) | await _playing(size) | await _proving(size)


def golden(name: str, size: tuple[int, int]) -> Path:
    return GOLDEN / f"{name}_{sized(size)}.txt"


def main() -> int:
    kept = set()
    for size in SIZES:
        for name, shown in asyncio.run(every_layout(size)).items():
            path = golden(name, size)
            kept.add(path)
            if not path.exists() or path.read_text(encoding="utf-8") != shown:
                path.write_text(shown, encoding="utf-8")
                print(f"written, look at it: {path.name}")
    for path in set(GOLDEN.glob("*.txt")) - kept:
        path.unlink()
        print(f"no such screen any more, removed: {path.name}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
