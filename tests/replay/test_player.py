"""However a recording is played, the same inputs come in the same order, none left out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from adapters.reading import Input, Reading, Tick
from replay.capture import CaptureWriter, Header, open_capture
from replay.plain_csv import read_csv
from replay.player import Player
from replay.rate import parse_rate
from tests.replay.values import evening, reading


class Tape:
    """A recording in memory."""

    def __init__(self, values: list[Input]) -> None:
        self.header = Header(title="tape")
        self.title = "tape"
        self.start = values[0].seconds if values else 0.0
        self.end = max((value.seconds for value in values), default=0.0)
        self._values = values

    def inputs(self) -> Iterator[Input]:
        return iter(self._values)


def play_out(player: Player, step: float = 0.37) -> list[Input]:
    now, out = 1000.0, []
    while not player.finished:
        out += player.due(now)
        now += step
        assert now < 1e6
    return out


@pytest.mark.parametrize("rate", [1.0, 60.0, 0.25, 1e9, math.inf])
def test_every_rate_gives_the_same_inputs(tmp_path: Path, rate: float) -> None:
    path = tmp_path / "a.capture"
    writer = CaptureWriter(path, Header())
    for value in evening(80):
        writer.append(value)
    writer.close()
    player = Player(open_capture(path), rate)
    assert play_out(player) == evening(80)
    assert player.position == player.end
    assert player.wait_seconds() is None


def test_time_passes_at_the_rate_asked() -> None:
    player = Player(Tape([reading(float(at), 12.0) for at in range(100, 200)]), rate=2.0)
    assert [value.seconds for value in player.due(50.0)] == [100.0]
    assert player.wait_seconds() == pytest.approx(0.5)
    assert [value.seconds for value in player.due(51.0)] == [101.0, 102.0]
    assert player.position == 102.0
    player.set_rate(10.0)
    assert len(player.due(52.0)) == 10
    assert player.due(51.0) == [], "a clock that runs back moves nothing"
    assert player.position == 112.0


def test_pause_stops_time_and_resume_does_not_catch_up() -> None:
    player = Player(Tape([reading(float(at), 12.0) for at in range(100)]))
    player.due(0.0)
    player.due(5.0)
    player.pause()
    assert player.paused
    assert player.due(50.0) == []
    assert player.wait_seconds() is None
    player.resume()
    assert player.due(50.5) == []
    assert [value.seconds for value in player.due(51.0)] == [6.0]


def test_step_lets_one_reading_pass_with_what_stands_before_it() -> None:
    values: list[Input] = [
        reading(0.0, 12.0),
        Tick(1.0),
        Tick(2.0),
        reading(3.0, 12.1),
        reading(3.0, 12.2, "other"),
        reading(5.0, 12.3),
        Tick(6.0),
    ]
    player = Player(Tape(values))
    assert player.due(0.0) == values[:1]
    player.step()
    assert player.paused
    assert player.wait_seconds() == 0.0
    assert player.due(0.1) == values[1:5]
    assert player.due(99.0) == []
    player.step()
    player.step()
    assert player.due(99.1) == values[5:]
    assert player.finished
    player.step()
    assert player.due(99.2) == []


def test_two_steps_pass_two_moments_though_two_devices_spoke_in_the_first() -> None:
    values: list[Input] = [
        reading(0.0, 12.0),
        reading(3.0, 12.1),
        reading(3.0, 12.2, "other"),
        reading(5.0, 12.3),
        reading(7.0, 12.4),
    ]
    player = Player(Tape(values))
    player.due(0.0)
    player.step()
    player.step()
    assert player.due(0.1) == values[1:4]
    assert player.position == 5.0


def test_time_stands_still_while_a_slow_taker_catches_up() -> None:
    player = Player(Tape([reading(float(at), 12.0) for at in range(100)]), rate=10.0)
    player.due(0.0)
    assert len(player.due(5.0, most=1)) == 1
    assert player.position == 50.0
    for now in range(6, 54):
        assert len(player.due(float(now), most=1)) == 1
        assert player.position == 50.0
    assert len(player.due(54.0, most=1)) == 1
    assert not player.catching_up
    assert len(player.due(54.1)) == 1


def test_seek_ahead_gives_everything_between_and_back_begins_anew() -> None:
    values: list[Input] = [reading(float(at), 12.0) for at in range(1000)]
    player = Player(Tape(values))
    player.due(0.0)
    player.seek(700.0)
    assert player.generation == 0
    got = values[:1] + player.due(0.1, most=500)
    assert player.catching_up
    assert player.wait_seconds() == 0.0
    got += player.due(0.2, most=500)
    assert got == values[:701]
    assert not player.catching_up
    player.seek(10.0)
    assert player.generation == 1
    assert player.position == 10.0
    assert player.due(0.3) == values[:11]
    player.seek(-5.0)
    assert (player.generation, player.position) == (2, 0.0)
    player.seek(1e9)
    assert (player.generation, player.position) == (2, 999.0)
    with pytest.raises(ValueError, match="seek: expected seconds"):
        player.seek(math.nan)


def test_seek_works_while_paused_and_at_the_end() -> None:
    values: list[Input] = [reading(float(at), 12.0) for at in range(100)]
    player = Player(Tape(values), math.inf)
    assert play_out(player) == values
    player.pause()
    player.seek(20.0)
    assert player.due(5.0) == values[:21]
    assert player.due(6.0) == []
    assert not player.finished


def test_rows_out_of_order_keep_their_place(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("t_s,v_bank\n0,12\n10,12\n4,12\n11,12\n11,12.1\n2,12\n")
    expected = [0, 10, 4, 11, 11, 2]
    for rate in (1.0, math.inf):
        player = Player(read_csv(path), rate)
        assert [value.seconds for value in play_out(player)] == expected
        assert player.position == 11


_actions = st.one_of(
    st.tuples(st.just("wait"), st.floats(0, 30)),
    st.tuples(st.just("rate"), st.sampled_from([0.1, 1.0, 60.0, math.inf])),
    st.tuples(st.sampled_from(["pause", "resume", "step"]), st.none()),
    st.tuples(st.just("seek"), st.floats(-50, 300)),
    st.tuples(st.just("most"), st.integers(1, 50)),
)


@settings(max_examples=150)
@given(st.lists(_actions, max_size=30), st.lists(st.floats(0, 200), min_size=1, max_size=40))
def test_whatever_a_person_does_the_inputs_are_a_beginning_of_the_recording(
    actions: list[tuple[str, float | None]], times: list[float]
) -> None:
    values: list[Input] = [
        Reading(at, "shunt", ()) if number % 3 else Tick(at) for number, at in enumerate(times)
    ]
    player = Player(Tape(values))
    now, most, generation = 0.0, 500, 0
    seen: list[Input] = []
    for action, figure in [*actions, ("resume", None), ("rate", math.inf), *[("wait", 1.0)] * 50]:
        match action, figure:
            case "wait", float():
                now += figure
            case "rate", float():
                player.set_rate(figure)
            case "seek", float():
                player.seek(figure)
            case "most", int():
                most = figure
            case (("pause" | "resume" | "step"), _):
                getattr(player, action)()
        if player.generation != generation:
            generation, seen = player.generation, []
        seen += player.due(now, most)
        assert seen == values[: len(seen)]
        assert player.start <= player.position <= player.end
    assert player.finished
    assert seen == values


def test_rates_as_written_by_a_person() -> None:
    assert parse_rate("60") == 60.0
    assert parse_rate("max") == math.inf
    for wrong in ("0", "-1", "fast", "nan", ""):
        with pytest.raises(ValueError, match="expected a number above 0, or max") as error:
            parse_rate(wrong)
        assert "\n" not in str(error.value)
