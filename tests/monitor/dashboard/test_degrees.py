"""Where Fahrenheit is chosen no screen shows Celsius, whatever the temperature is the reason of."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from typing import Final

import pytest
from textual.pilot import Pilot

from adapters.reading import Channel, Command, Quantity, Reading
from monitor.bank import Site, Source, SourceKind
from monitor.dashboard.actions import DEEDS
from monitor.dashboard.app import Dashboard
from monitor.engine.outlook import Outlook
from monitor.engine.parts import Part
from monitor.engine.said import Said
from monitor.engine.snapshot import Event
from monitor.logbook import entry_of
from monitor.showing import Showing
from tests.monitor.dashboard.fake_feed import FakeFeed, FakePlayer
from tests.monitor.dashboard.screen_text import press, rows, running, settle, text
from tests.monitor.dashboard.test_commission import proving
from tests.monitor.engine.sites import CELSIUS, bank, reading

#: A figure in degrees Celsius, as it is told or as it is typed.
CELSIUS_SHOWN: Final = re.compile(r"\d\s*°C|°C\]|\d ?C\b(?! lead| LFP|\))")
AIR: Final = Channel("house", Quantity.AMBIENT_CELSIUS)
#: Columns and rows with which everything is in sight at once.
TALL: Final = (100, 160)
CELLS: Final = tuple(Channel(f"house#{n}", Quantity.CELL_CELSIUS) for n in (1, 2))


def hot(seconds: float) -> Iterator[Reading]:
    """A bank that grows hot in use, then reads what no bank can be; a second sensor
    says six degrees more."""
    warm = 25.0 + seconds / 240.0 if seconds < 7200.0 else 10.0
    more = ((AIR, 18.0), *((cell, warm + 0.4) for cell in CELLS))
    yield reading(seconds, 12.5, -5.0, warm, "shunt", more)
    yield Reading(seconds, "spare", ((CELSIUS, warm + 8.0),))


def frozen(seconds: float) -> Iterator[Reading]:
    """Lithium that is charged in frost."""
    yield reading(seconds, 13.6, 30.0, -8.0, "shunt", ((AIR, -9.0),))


@cache
def shown(story: str) -> Showing:
    house = bank("agm") if story == "hot" else bank("lfp")
    showing = Showing(Site((house,), (Source("shore", "house", SourceKind.AC_CHARGER, 40.0),), ()))
    tell, last = (hot, 7800) if story == "hot" else (frozen, 3600)
    for seconds in range(0, last, 30):
        for each in tell(float(seconds)):
            showing.step(each)
    for each in entry_of("gravity 1.265 1.26 at 64", "ann", "house", fahrenheit=True):
        showing.step(replace(each, seconds=float(last)))
    showing.step(Command(float(last), "ann", *_seen(showing)))
    return showing


def _seen(showing: Showing) -> tuple:  # type: ignore[type-arg]  # the rest of a command
    from adapters.reading import Action

    alarm = showing.snapshot().alarms[0]
    return Action.ACKNOWLEDGE, f"{alarm.target}:{alarm.name}", "it is 51 °C"


class Engined(FakeFeed):
    """What a real engine says at the end of a story."""

    def __init__(self, story: str) -> None:
        self.showing = shown(story)
        super().__init__(self.showing.snapshot(), FakePlayer())
        self.site = self.showing.site

    def events(self, since: int) -> tuple[Event, ...]:
        return self.showing.events(since)

    def explain(self, bank: str) -> tuple[Part, ...]:
        return self.showing.explain(bank)

    def outlook(self, bank: str) -> Outlook | None:
        return self.showing.outlook(bank)

    def said(self, bank: str) -> tuple[Said, ...]:
        return self.showing.said(bank)


async def walk(board: Dashboard, pilot: Pilot[int]) -> dict[str, str]:
    """Every screen, each as one text; the terminal is so tall that there are no pages to turn."""
    seen = {"now": text(board)}
    for deed in (*(deed for deed in DEEDS if deed.screen), DEEDS[-11]):
        await press(pilot, deed.key)
        seen[deed.action] = text(board)
        if deed.action == "tonight":
            for _ in range(200):
                await settle(pilot)
                if "Working" not in text(board):
                    break
        assert not board.screen.query("#pages") or not board.screen.query_one("#pages").max_scroll_y
        await press(pilot, "y" if deed.action == "cautions" else "x")
    return {name: " ".join(each.split()) for name, each in seen.items()}


@pytest.mark.parametrize(
    ("story", "reasons"),
    [
        ("hot", ("now", "alarms", "explain", "journal", "tonight", "bank", "trend", "cautions")),
        pytest.param("frozen", ("now", "alarms", "explain"), marks=pytest.mark.slow),
    ],
)
async def test_no_screen_shows_celsius(story: str, reasons: tuple[str, ...]) -> None:
    async with running(Engined(story), TALL, fahrenheit=True) as (board, pilot):
        seen = await walk(board, pilot)
    assert len(seen) > 12
    found = {name: _around(each) for name, each in seen.items() if CELSIUS_SHOWN.search(each)}
    assert not found
    for name in reasons:
        assert re.search(r"\d °F", seen[name]), f"{name} tells no temperature: it proves nothing"


@pytest.mark.slow
async def test_the_same_story_in_celsius_shows_them() -> None:
    async with running(Engined("hot"), TALL) as (board, pilot):
        seen = await walk(board, pilot)
        assert not any("°F" in each for name, each in seen.items() if name != "help")
        assert sum(bool(CELSIUS_SHOWN.search(each)) for each in seen.values()) >= 8


async def test_the_key_turns_a_page_that_is_open() -> None:
    async with running(Engined("hot"), (80, 24)) as (board, pilot):
        await press(pilot, "kn")
        assert "°C" in text(board)
        await press(pilot, "f")
        assert not CELSIUS_SHOWN.search(text(board))
        await press(pilot, "f")
        assert "°C" in text(board)


async def test_a_commissioning_asks_and_tells_in_fahrenheit() -> None:
    async with proving((80, 100), "voltmeter") as (feed, session, board, pilot):
        board.fahrenheit = True
        seen = ""
        for _ in session.procedure.items:
            board.screen.action_move(1)  # type: ignore[attr-defined]
            await pilot.pause()
            seen += "\n" + text(board)
        assert "°F" in seen
        assert not CELSIUS_SHOWN.search(seen), _around(seen)
        key = "probe-air" if session.procedure.item("probe-air") else _asking(session)
        screen = board.screen
        screen._key, screen._chosen = key, True  # type: ignore[attr-defined]
        await press(pilot, "b")
        feed.later()
        await settle(pilot)
        await press(pilot, "e")
        assert "in °F" in text(board)
        await pilot.press("6", "8", "enter")
        await settle(pilot)
        assert feed.sent[-1].note.endswith("= 68F")
        assert "x back" in rows(board)[-1]


def _asking(session: object) -> str:
    """A check that asks for a temperature first."""
    for item in session.procedure.items:  # type: ignore[attr-defined]
        asks = [each for each in item.asks if not each.optional] or list(item.asks)
        if asks and asks[0].unit == "°C" and not item.needless:
            return str(item.key)
    raise AssertionError("no check asks for a temperature")


def _around(words: str) -> list[str]:
    return [words[max(0, m.start() - 60) : m.end() + 30] for m in CELSIUS_SHOWN.finditer(words)][:5]
