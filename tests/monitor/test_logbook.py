"""The log: figures read strictly, entries that wait on disk, taken in once and recorded."""

from __future__ import annotations

import asyncio
import os
from pathlib import Path
from typing import Any

import pytest

from adapters.reading import Action, Command, Quantity
from monitor import logbook
from monitor.cli import main
from monitor.entries import Entries, put
from monitor.live import Live
from replay.capture import open_capture
from tests.monitor.test_feed_live import config, devices
from tests.monitor.virtual_time import run_virtual


@pytest.mark.parametrize(
    ("read", "celsius", "moved"),
    # two rows of a battery handbook: +0.007 for 10 °C above 25
    [(1.255, 35.0, 1.262), (1.275, 15.0, 1.268), (1.265, 25.0, 1.265)],
)
def test_gravity_is_moved_to_25_degrees_as_the_handbook_does(
    read: float, celsius: float, moved: float
) -> None:
    assert round(logbook.gravity_at_25(read, celsius), 3) == moved


def test_gravity_of_a_bank_is_a_meter_reading_a_cell() -> None:
    entry = logbook.gravity_entry("ann", "house", ["1.265", "1240"], 15.0, "after equalize")
    assert [each.target for each in entry] == [
        "house#1:specific_gravity",
        "house#2:specific_gravity",
    ]
    assert entry[0].action is Action.METER_READING
    assert entry[0].note == "1.265 at 15 °C, 1.258 at 25 °C; after equalize"
    assert logbook.gravity_spread(entry) == pytest.approx(0.025)


@pytest.mark.parametrize(
    ("text", "celsius"), [("15", 15.0), ("59F", 15.0), ("-4 °C", -4.0), ("77°F", 25.0)]
)
def test_temperatures_as_people_write_them(text: str, celsius: float) -> None:
    assert logbook.celsius_of(text) == pytest.approx(celsius)


def test_meter_water_and_words() -> None:
    (volts,) = logbook.meter_entry("ann", "house", "volts", "12.62V")
    assert (volts.target, volts.note) == (f"house:{Quantity.BANK_VOLTS}", "12.62 V")
    (water,) = logbook.water_entry("ann", "house", "0.8L", "cells 3 and 4")
    assert water.note == "water added: 0.8 L; cells 3 and 4"
    (other,) = logbook.replaced_entry("ann", "house", "two new 6 V")
    assert other.action is Action.REPLACE_BANK


def wrong_gravity() -> Any:
    return logbook.gravity_entry("ann", "house", ["1.9"], 20.0)


def wrong_meter() -> Any:
    return logbook.meter_entry("ann", "house", "volts", "1262")


def wrong_celsius() -> Any:
    return logbook.celsius_of("200")


def wrong_water() -> Any:
    return logbook.water_entry("ann", "house", "a lot")


def wrong_length() -> Any:
    return logbook.note_entry("ann", "house", "x" * 301)


@pytest.mark.parametrize(
    ("slip", "said"),
    [
        (wrong_gravity, "cell 1: expected 1 to 1.4, found '1.9'"),
        (wrong_meter, "volts: expected 2 to 80 V, found '1262'"),
        (wrong_celsius, "temperature: expected -40 to 80 °C such as 15C or 59F, found '200'"),
        (wrong_water, "water: expected 0.001 to 50 L, found 'a lot'"),
        (wrong_length, "note: expected at most 300 letters, found 301"),
    ],
)
def test_a_slip_is_one_line(slip: Any, said: str) -> None:
    with pytest.raises(logbook.EntryError) as caught:
        slip()
    assert str(caught.value) == said


def note(words: str) -> tuple[Command, ...]:
    return logbook.note_entry("ann", "house", words)


def test_entries_come_out_in_order_and_go_once_they_were_taken_in(tmp_path: Path) -> None:
    for number in range(3):
        put(tmp_path, note(f"entry {number}"), 1000.0, token=lambda n=number: f"{n:04d}")
    entries = Entries(tmp_path).take(1060.0)
    assert next(entries)[0].note == "entry 0"
    assert len(list(tmp_path.iterdir())) == 3  # not gone before it was taken in
    assert [each.note for (each,) in entries] == ["entry 1", "entry 2"]
    assert list(tmp_path.iterdir()) == []


def test_a_late_entry_says_when_it_was_meant(tmp_path: Path) -> None:
    put(tmp_path, note("water"), 1.7e9)
    ((late,),) = Entries(tmp_path).take(1.7e9 + 86400.0)
    assert late.note == "water (of 2023-11-14 22:13 UTC)"


def test_what_is_no_entry_is_set_aside_and_told(tmp_path: Path) -> None:
    (tmp_path / "0001.entry.json").write_text('{"format": 1')
    (tmp_path / "0002.entry.json").write_text('{"format": 9, "wall": 0, "commands": []}')
    put(tmp_path, note("good"), 0.0, token=lambda: "0003")
    told = [each.note for (each,) in Entries(tmp_path).take(0.0)]
    assert "not an entry of the log, set aside" in told[0]
    assert "set aside" in told[1]
    assert told[2] == "good"
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "0001.entry.aside",
        "0002.entry.aside",
    ]


def test_one_that_cannot_be_removed_is_not_taken_twice(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(tmp_path, note("once"), 0.0)

    def refuse(_: Path) -> None:
        raise PermissionError("read-only")

    monkeypatch.setattr(Path, "unlink", refuse)
    entries = Entries(tmp_path)
    assert len(list(entries.take(0.0))) == 1
    assert list(entries.take(0.0)) == []
    assert list(Entries(tmp_path / "nowhere").take(0.0)) == []


def test_a_live_feed_takes_them_in_and_records_them(tmp_path: Path) -> None:
    folder = tmp_path / "entries"

    async def main() -> None:
        loop = asyncio.get_running_loop()
        live = Live(
            config(),
            capture_path=tmp_path / "a.capture",
            adapters=devices(),
            entries=folder,
            monotonic=loop.time,
            wall=lambda: 1.7e9 + loop.time(),
        )
        acquiring = asyncio.create_task(live.acquire())
        await asyncio.sleep(30.0)
        put(folder, logbook.replaced_entry("ann", "house", "new"), 1.7e9 + loop.time())
        await asyncio.sleep(30.0)
        acquiring.cancel()
        await asyncio.gather(acquiring, return_exceptions=True)
        assert any(event.name == "replace-bank" for event in live.events(0))

    run_virtual(main())
    (taken,) = [v for v in open_capture(tmp_path / "a.capture").inputs() if isinstance(v, Command)]
    assert (taken.action, taken.target, taken.note) == (Action.REPLACE_BANK, "house", "new")
    assert os.listdir(folder) == []


@pytest.fixture
def coach(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    text = '[banks.house]\nchemistry = "flooded"\nnominal_volts = 12\namp_hours = 200\n'
    (tmp_path / "coach.toml").write_text(text)
    return tmp_path


def test_the_command_from_the_terminal(coach: Path, capsys: pytest.CaptureFixture[str]) -> None:
    where = ["--config", str(coach / "coach.toml")]
    cells = ["1.265", "1.230", "1.260", "1.262", "1.266", "1.264"]
    assert main(["note", "gravity", *cells, "--at", "59F", *where]) == 0
    said = capsys.readouterr().out
    assert "house#2:specific_gravity: 1.230 at 15 °C, 1.223 at 25 °C" in said
    assert "the cells are 0.036 apart" in said
    ((*commands,),) = Entries(coach / "ampwright" / "entries").take(0.0)
    assert len(commands) == 6


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["gravity", "1.26"], "gravity: expected the temperature of the acid, found none"),
        (["meter", "volts"], "meter: expected two words such as volts 12.62, found 'volts'"),
        (["polish", "it"], "note: expected one of gravity, meter"),
        (["text", "x", "--when", "2999-01-01"], "--when: expected a time that has passed"),
        (["text", "x", "--when", "noon"], "--when: expected a local time such as"),
        (["text", "x", "--bank", "start"], '--bank: expected one of house, found "start"'),
    ],
)
def test_slips_on_the_terminal_are_one_line(
    words: list[str], said: str, coach: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["note", *words, "--config", str(coach / "coach.toml")]) == 2
    error = capsys.readouterr().err
    assert error.startswith(f"ampwright: {said}")
    assert error.count("\n") == 1
    assert not (coach / "ampwright").exists()


@pytest.mark.parametrize(
    ("line", "action", "note"),
    [
        ("water 0.8L", Action.NOTE, "water added: 0.8 L"),
        ("meter volts 12.62", Action.METER_READING, "12.62 V"),
        ("cleaned terminals", Action.NOTE, "cleaned: terminals"),
        ("replaced two new 6 V", Action.REPLACE_BANK, "two new 6 V"),
        ("second pump labelled", Action.NOTE, "second pump labelled"),
        ("gravity 1.265 at 25C", Action.METER_READING, "1.265 at 25 °C, 1.265 at 25 °C"),
    ],
)
def test_an_entry_in_one_line(line: str, action: Action, note: str) -> None:
    (entry,) = logbook.entry_of(line, "ann", "house")
    assert (entry.action, entry.note) == (action, note)


@pytest.mark.parametrize("line", ["", "gravity 1.265", "meter volts", "water much"])
def test_a_line_that_is_no_entry_is_one_line_back(line: str) -> None:
    with pytest.raises(logbook.EntryError) as caught:
        logbook.entry_of(line, "ann", "house")
    assert "expected" in str(caught.value)
