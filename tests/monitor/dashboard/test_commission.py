"""Proving an install on the screen: by single letters, on a phone, over a feed made by hand."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace

import pytest
from textual.pilot import Pilot

from adapters.reading import Command
from monitor.commission.attended import Attended
from monitor.commission.installation_file import from_site
from monitor.commission.procedure import Procedure
from monitor.commission.record import Verdict
from monitor.commission.session import Session
from monitor.commission.setting import Setting
from monitor.dashboard.app import Dashboard
from monitor.dashboard.screens.commission import CommissionScreen
from monitor.engine.snapshot import Event, EventKind, Measured, Priority
from tests.monitor.dashboard.fake_feed import NORMAL, FakeFeed
from tests.monitor.dashboard.screen_text import press, rows, running, settle, text

PHONES = [(40, 15), (30, 10)]


class Heard(FakeFeed):
    """What is sent comes back as an event, as it does from an engine."""

    def __init__(self) -> None:
        super().__init__()
        self.journal: list[Event] = []
        self._seconds = NORMAL.seconds

    def send(self, command: Command) -> None:
        super().send(command)
        self.journal.append(
            Event(
                NORMAL.last_event + len(self.journal) + 1,
                self._seconds,
                EventKind.COMMAND,
                str(command.action),
                command.target,
                Priority.NONE,
                f"{command.who}: {command.note}",
            )
        )

    def events(self, since: int) -> tuple[Event, ...]:
        return tuple(event for event in self.journal if event.number > since)

    def later(self, seconds: float = 5.0, volts: float | None = None) -> None:
        """One more snapshot, so much later."""
        self._seconds += seconds
        house = NORMAL.banks[0]
        if volts is not None:
            house = replace(house, volts=Measured(volts, 1.0))
        self.put(
            replace(
                NORMAL,
                seconds=self._seconds,
                banks=(house, *NORMAL.banks[1:]),
                last_event=NORMAL.last_event + len(self.journal),
            )
        )


@asynccontextmanager
async def proving(
    size: tuple[int, int], key: str
) -> AsyncIterator[tuple[Heard, Session, Dashboard, Pilot[int]]]:
    feed = Heard()
    bank = feed.site.banks[0]
    procedure = Procedure(Setting(feed.site, bank, from_site(feed.site, bank)))
    session = Session(feed, procedure, None)
    async with running(Attended(feed, session), size) as (board, pilot):  # type: ignore[arg-type]
        board.push_screen(CommissionScreen(key))
        await settle(pilot)
        feed.later()
        await settle(pilot)
        yield feed, session, board, pilot


@pytest.mark.parametrize("size", PHONES, ids=lambda size: f"{size[0]}x{size[1]}")
async def test_a_check_is_done_by_single_letters(size: tuple[int, int]) -> None:
    async with proving(size, "voltmeter") as (feed, session, board, pilot):
        assert "Caution" in text(board)
        await press(pilot, "b")
        feed.later(5.0, 28.70)
        await settle(pilot)
        assert "NOW" in text(board)
        assert "█" in text(board) or "▀" in text(board)  # the live figure, large
        await press(pilot, "e")
        await pilot.press("2", "8", ".", "7", "1", "enter")
        feed.later(5.0, 28.70)
        await settle(pilot)
        item = session.procedure.item("voltmeter")
        assert item is not None
        assert item.last is not None
        assert item.last.verdict is Verdict.PASS
        assert "pass" in text(board)
    notes = [command.note for command in feed.sent]
    assert notes == ["begin", "enter meter = 28.71"]


@pytest.mark.parametrize("size", PHONES, ids=lambda size: f"{size[0]}x{size[1]}")
async def test_a_wrong_answer_is_told_and_asked_again(size: tuple[int, int]) -> None:
    async with proving(size, "voltmeter") as (feed, _, board, pilot):
        await press(pilot, "b")
        feed.later()
        await settle(pilot)
        await press(pilot, "e")
        await pilot.press("x", "enter")
        await settle(pilot)
        assert "expected 2 to 80 V" in " ".join(text(board).split())
        await pilot.press("escape")
        await settle(pilot)
        assert isinstance(board.screen, CommissionScreen)
        assert [command.note for command in feed.sent] == ["begin"]


async def test_skipping_asks_for_the_reason_and_the_list_tells_it() -> None:
    async with proving((80, 24), "scale") as (feed, _, board, pilot):
        await press(pilot, "s")
        await pilot.press("n", "o", "space", "c", "l", "a", "m", "p", "enter")
        feed.later()
        await settle(pilot)
        assert "not done: no clamp" in text(board)
        await press(pilot, "l")
        assert "not applicable" in rows(board)[2] or "not done" in rows(board)[2]


async def test_without_a_commissioning_it_says_how_to_begin() -> None:
    async with running(FakeFeed(), (40, 15)) as (board, pilot):
        board.push_screen(CommissionScreen())
        await settle(pilot)
        await pilot.press("b", "e", "d", "n", "p", "l", "s", "o")
        await settle(pilot)
        board.redraw()
        await settle(pilot)
        assert "ampwright commission" in text(board)


@pytest.mark.parametrize("size", PHONES, ids=lambda size: f"{size[0]}x{size[1]}")
async def test_the_next_service_is_agreed_on(size: tuple[int, int]) -> None:
    async with proving(size, "next-service") as (feed, session, board, pilot):
        await press(pilot, "b")
        feed.later()
        await settle(pilot)
        await press(pilot, "e")
        await settle(pilot)
        assert "common practice" in " ".join(text(board).split())
        await pilot.press(*"soon", "enter")
        await settle(pilot)
        assert "expected a day" in text(board)
        await pilot.press("ctrl+u", *"usual", "enter")
        feed.later()
        await settle(pilot)
        item = session.procedure.item("next-service")
        assert item is not None
        assert item.last is not None
        assert item.last.verdict is Verdict.PASS
        assert session.procedure.record().next_service
    assert [command.note for command in feed.sent] == ["begin", "enter date = usual"]
