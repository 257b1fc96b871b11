"""A recording as a feed: the same answers whatever the rate, the pauses and the way back."""

from __future__ import annotations

import asyncio
import itertools
import json
import math
from pathlib import Path

import pytest

from adapters.reading import Action, Command
from monitor.played import Checkpoints, Played
from monitor.recorded import Recorded, open_recorded
from replay.player import Player
from tests.monitor.recordings import small_capture

#: An hour of a coach: several of the player's kept states.
INPUTS = 1500


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Recorded:
    return open_recorded(small_capture(tmp_path_factory.mktemp("played"), INPUTS))


class Hand:
    """A person at a player, with a clock in his hand."""

    def __init__(self, recorded: Recorded, rate: float) -> None:
        self.now = 0.0
        self.feed = Played(
            Player(recorded.recording, rate),
            recorded.site,
            recorded.state,
            clock=lambda: self.now,
        )
        self.turns()

    def turns(self) -> None:
        """All that is due at this moment."""
        while self.feed.turn():
            pass

    def wait(self, seconds: float) -> None:
        self.now += seconds
        self.turns()

    def to_the_end(self) -> None:
        self.feed.player.resume()
        for _ in range(100_000):
            if self.feed.finished:
                return
            self.wait(37.0)
        raise AssertionError("the recording has no end")

    def seen(self) -> tuple[object, ...]:
        """Everything a screen could show."""
        bank = self.feed.site.banks[0].id
        trends = [self.feed.trend(bank, hours * 3600.0, 40) for hours in (1, 6, 24)]
        return self.feed.snapshot(), self.feed.events(0), trends


@pytest.fixture(scope="module")
def straight(recorded: Recorded) -> tuple[object, ...]:
    hand = Hand(recorded, math.inf)
    hand.to_the_end()
    return hand.seen()


@pytest.mark.parametrize("rate", [1.0, 60.0, 3600.0])
def test_any_rate_shows_the_same(
    recorded: Recorded, straight: tuple[object, ...], rate: float
) -> None:
    hand = Hand(recorded, rate)
    hand.to_the_end()
    assert hand.seen() == straight


def test_pausing_stepping_and_seeking_change_nothing(
    recorded: Recorded, straight: tuple[object, ...]
) -> None:
    hand = Hand(recorded, 300.0)
    player = hand.feed.player
    span = player.end - player.start
    for share in (0.3, 0.9, 0.1, 0.55, 0.5499, 1.0, 0.0, 0.7):
        player.seek(player.start + share * span)
        hand.turns()
        assert player.position == pytest.approx(player.start + share * span)
        hand.wait(2.0)
        player.pause()
        hand.wait(100.0)
        player.step()
        hand.turns()
        player.resume()
    hand.to_the_end()
    assert hand.seen() == straight


async def test_a_screen_gets_its_turns_while_a_long_stretch_is_caught_up(
    recorded: Recorded,
) -> None:
    """Others in the loop go round many times before the end: a key is taken at once."""
    player = Player(recorded.recording, 1.0)
    feed = Played(player, recorded.site, recorded.state)
    await feed.start()
    feed.player.seek(player.end)
    rounds = 0
    async with asyncio.timeout(60):
        while not feed.finished:
            await asyncio.sleep(0)
            rounds += 1
    await feed.stop()
    # A key takes some ten rounds of the loop from the terminal to the paint.
    assert rounds > 10 * INPUTS / 500


def test_going_back_shows_what_was_seen_there(recorded: Recorded) -> None:
    hand = Hand(recorded, 60.0)
    player = hand.feed.player
    player.pause()
    places = [player.start + share * (player.end - player.start) for share in (0.2, 0.5, 0.8)]
    seen = []
    for place in places:
        player.seek(place)
        hand.turns()
        seen.append(hand.seen())
    for place, before in reversed(list(zip(places, seen, strict=True))):
        player.seek(place)
        hand.turns()
        assert hand.seen() == before


def test_going_back_steps_only_from_the_last_kept_state(recorded: Recorded) -> None:
    hand = Hand(recorded, math.inf)
    hand.to_the_end()
    stepped = 0
    step = hand.feed._showing.step

    def counting(value: object) -> object:
        nonlocal stepped
        stepped += 1
        return step(value)  # type: ignore[arg-type]

    hand.feed._showing.step = counting  # type: ignore[method-assign, assignment]
    player = hand.feed.player
    player.set_rate(1.0)
    player.seek(player.end - 1.0)
    hand.turns()
    whole = sum(1 for _ in recorded.recording.inputs())
    per_second = whole / (player.end - player.start)
    assert 0 < stepped <= 1.2 * per_second * hand.feed._checkpoints.spacing + 20


def test_a_command_stays_at_its_place(recorded: Recorded) -> None:
    hand = Hand(recorded, 60.0)
    player = hand.feed.player
    middle = player.start + 0.5 * (player.end - player.start)
    player.pause()
    player.seek(middle)
    hand.turns()
    hand.feed.send(Command(0.0, "owner", Action.NOTE, "house", "topped up with water"))
    hand.to_the_end()
    once = hand.seen()
    said = [e for e in hand.feed.events(0) if "topped up" in json.dumps(str(e))]
    assert [event.seconds for event in said] == [middle]
    player.seek(player.start)
    hand.turns()
    assert not [e for e in hand.feed.events(0) if "topped up" in str(e)]
    hand.to_the_end()
    assert hand.seen() == once


def test_checkpoints_are_kept_where_the_trend_can_be_cut() -> None:
    kept = Checkpoints(None, 100.0, 3 * 86400.0)
    assert kept.spacing % 900.0 == 0
    for number, seconds in enumerate(range(100, 20_000, 7)):
        kept.keep(float(seconds), number, lambda number=number: {"n": number})  # type: ignore[misc]
    last = kept.before(10 * kept.spacing + 3.0)
    assert last.seconds == 10 * kept.spacing
    assert json.loads(last.state or "")["n"] == last.inputs == math.ceil((last.seconds - 100) / 7)
    assert kept.before(0.0).state is None


async def test_it_plays_by_itself_and_ends_its_snapshots(recorded: Recorded) -> None:
    clock = itertools.count(0.0, 500.0)
    feed = Played(
        Player(recorded.recording, 60.0),
        recorded.site,
        recorded.state,
        refresh_seconds=0.0,
        clock=lambda: next(clock),
    )
    await feed.start()
    newest = 0.0
    async with asyncio.timeout(30.0):
        async for snapshot in feed.snapshots():
            assert snapshot.seconds >= newest
            newest = snapshot.seconds
            if feed.finished:
                break
    assert newest == pytest.approx(feed.player.end)
    feed.player.seek(feed.player.start)
    async with asyncio.timeout(30.0):
        async for snapshot in feed.snapshots():
            if snapshot.seconds < newest:
                break
    await feed.stop()
    assert [s async for s in feed.snapshots()]


def test_a_table_as_a_feed(tmp_path: Path) -> None:
    table, bank = tmp_path / "t.csv", tmp_path / "bank.toml"
    table.write_text("t_s,v_bank,i_net\n0,12.6,0\n5,12.5,-4\n10,12.5,-4\n")
    bank.write_text('[banks.start]\nchemistry = "agm"\nnominal_volts = 12\namp_hours = 90\n')
    recorded = open_recorded(table, bank)
    hand = Hand(recorded, math.inf)
    hand.to_the_end()
    (view,) = hand.feed.snapshot().banks
    assert (view.id, view.volts.figure, view.amps.figure) == ("start", 12.5, -4.0)
    assert [(link.device, link.period_seconds) for link in recorded.site.links] == [("csv", 5.0)]
