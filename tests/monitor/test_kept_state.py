"""What was learned, from one start to the next: taken up, or set aside with one line."""

from __future__ import annotations

import asyncio
import itertools
import json
import os
import re
from pathlib import Path
from random import Random
from typing import Any

import pytest

from monitor.config import ConfigError
from monitor.engine.engine import Engine
from monitor.engine.snapshot import Event, EventKind, Fact, Priority
from monitor.kept_events import KEPT
from monitor.kept_state import KeptState, UnusableStateError, load_state, save_state
from monitor.live import Live
from replay.capture import open_capture
from tests.monitor.test_feed_live import WALL, live_for


def test_what_was_learned_goes_on_where_it_was(tmp_path: Path) -> None:
    path = tmp_path / "bank.state"
    first = live_for(100.0, state_path=path)
    kept = load_state(path)
    assert kept is not None
    assert kept.seconds == pytest.approx(100.0)
    assert kept.engine == json.loads(json.dumps(first._showing.state()))
    capture = tmp_path / "second.capture"
    second = live_for(50.0, state_path=path, capture_path=capture)
    assert second.snapshot().seconds == pytest.approx(150.0, abs=1.1)
    before, both = first.events(0), second.events(0)
    assert both[: len(before)] == before, "the journal goes on"
    assert second.earlier == before[-1].number
    assert [event.number for event in both] == list(range(1, len(both) + 1))
    assert len(both) > len(before)
    header = open_capture(capture).header
    assert header.state == kept.engine


def test_time_missed_while_it_was_off_is_time_that_went_by() -> None:
    kept = KeptState({}, seconds=500.0, wall=WALL)
    assert kept.resume_at(WALL + 3600.0) == 4100.0
    # A board without a clock of its own starts in the past: feed time never runs back.
    assert kept.resume_at(WALL - 1e8) == 500.0


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"{}", "expected a state file, found something else"),
        (b"", "expected a state file, found something else"),
        (b"[1, 2", "expected a state file, found something else"),
        (b"\xff\xfe\x00", "expected a state file, found something else"),
        (b"[" * 100_000, "expected a state file, found something else"),
        (b'{"version": 1, "engine": {}, "seconds": 1, "wall": 2}', "expected state version 2"),
        (b'{"version": 2, "engine": {}, "seconds": 1, "wall": 2}', "damaged or edited"),
        (b'{"version": 2, "engine": 3, "seconds": NaN, "wall": 2}', "damaged or edited"),
    ],
)
def test_a_state_that_cannot_be_taken_up_is_set_aside(
    tmp_path: Path, content: bytes, why: str
) -> None:
    """Never fatal, never thrown away, and said in the journal and in the capture."""
    path, capture = tmp_path / "bank.state", tmp_path / "out.capture"
    path.write_bytes(content)
    live = live_for(5.0, state_path=path, capture_path=capture)
    (note,) = [event for event in live.events(0) if event.name == "note"]
    assert why in note.words
    assert note.words.endswith("set aside as bank.state.aside, started anew")
    assert "\n" not in note.words
    assert (tmp_path / "bank.state.aside").read_bytes() == content
    assert load_state(path) is not None  # what is learned from now on is kept there
    assert open_capture(capture).header.state is None
    path.write_bytes(content)
    live_for(5.0, state_path=path)
    assert (tmp_path / "bank.state.aside-2").read_bytes() == content


def test_a_figure_that_was_changed_is_noticed(tmp_path: Path) -> None:
    """By an editor or a bad disk, anywhere: at the start, not in the middle of a step."""
    path = tmp_path / "bank.state"
    live_for(20.0, state_path=path)
    text = path.read_text()
    figures = [found.start() for found in re.finditer(r"(?<=[:\[] )\d", text)]
    assert len(figures) > 300
    for place in Random(1).sample(figures, 40):
        digit = "7" if text[place] != "7" else "8"
        path.write_text(text[:place] + digit + text[place + 1 :])
        with pytest.raises(UnusableStateError):
            load_state(path)
    path.write_text(text)
    assert load_state(path) is not None


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"site": "yacht flooded 24 V 400.0 Ah"}, "engine state of another site"),
        ({"version": 0}, "engine state of version 0, expected"),
        ({"memory": {}}, "engine state is damaged"),
    ],
)
def test_a_state_that_this_engine_cannot_go_on_from_is_set_aside(
    tmp_path: Path, change: dict[str, Any], why: str
) -> None:
    path = tmp_path / "bank.state"
    live_for(5.0, state_path=path)
    kept = load_state(path)
    assert kept is not None
    save_state(path, KeptState({**kept.engine, **change}, kept.seconds, kept.wall))
    live = live_for(5.0, state_path=path)
    (note,) = [event for event in live.events(0) if event.name == "note"]
    assert why in note.words
    assert (tmp_path / "bank.state.aside").exists()


def test_a_state_that_cannot_even_be_moved_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "bank.state"
    path.write_text("{}")

    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "rename", refuse)
    with pytest.raises(ConfigError, match=r"bank\.state: .*Permission denied: name another file"):
        live_for(1.0, state_path=path)
    with pytest.raises(ConfigError, match=r"cannot be read: Is a directory"):
        load_state(tmp_path)
    assert load_state(tmp_path / "none.state") is None


def test_the_state_file_is_never_half_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "bank.state"
    save_state(path, KeptState({"n": 1}, 1.0, WALL))

    def refuse(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(OSError, match="No space"):
        save_state(path, KeptState({"n": 2}, 2.0, WALL))
    kept = load_state(path)
    assert kept is not None
    assert kept.engine == {"n": 1}


def test_a_file_of_before_the_journal_was_kept_is_taken_up(tmp_path: Path) -> None:
    path = tmp_path / "bank.state"
    save_state(path, KeptState({"n": 1}, 1.0, WALL))
    document = json.loads(path.read_text())
    del document["events"]
    path.write_text(json.dumps(document))
    assert load_state(path) == KeptState({"n": 1}, 1.0, WALL)


def test_the_end_of_the_journal_comes_back_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "bank.state"
    fact = Fact("limit", "51 °C", (("figure", 51.0), ("limit", 50.0)))
    events = tuple(
        Event(n, 10.0 * n, EventKind.ALARM, "hot", "house", Priority.HIGH, "a -> b", (fact,))
        for n in range(1, KEPT + 51)
    )
    save_state(path, KeptState({}, 1.0, WALL, events))
    kept = load_state(path)
    assert kept is not None
    assert kept.events == events[-KEPT:]
    text = path.read_text()
    path.write_text(text.replace("51.0", "15.0", 1))
    with pytest.raises(UnusableStateError, match="damaged or edited"):
        load_state(path)


def test_rows_behind_the_state_are_taken_in_from_the_capture_that_was_killed(
    tmp_path: Path,
) -> None:
    """The state is as of 600 s; the capture went on; the next run knows all of it."""
    path, capture = tmp_path / "bank.state", tmp_path / "first.capture"

    async def killed(live: Live) -> None:
        live._finished = True
        assert live._writer is not None
        live._writer.commit()

    async def script(live: Live) -> None:
        await asyncio.sleep(690.0)
        await killed(live)

    first = live_for(700.0, script, state_path=path, capture_path=capture)
    kept = load_state(path)
    assert kept is not None
    assert kept.recorded is not None
    assert kept.recorded[0] == str(capture)
    rows = sum(1 for _ in open_capture(capture).inputs())
    assert kept.recorded[1] < rows - 50
    engine = Engine(first.site, kept.engine)
    for value in itertools.islice(open_capture(capture).inputs(), kept.recorded[1], None):
        engine.step(value)
    second = tmp_path / "second.capture"
    live = live_for(5.0, state_path=path, capture_path=second)
    assert open_capture(second).header.state == json.loads(json.dumps(engine.state()))
    assert open_capture(second).start >= open_capture(capture).end
    numbers = [event.number for event in live.events(0)]
    assert numbers == sorted(set(numbers))
