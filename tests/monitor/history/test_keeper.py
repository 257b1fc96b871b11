"""Looking after a record: thinned for its age or for room, pinned, never without its sums."""

from __future__ import annotations

import dataclasses
import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from adapters.reading import Action, Command, LinkState, OwnLink, Reading
from monitor.config_history import History
from monitor.history.entries import reindex
from monitor.history.index import everything, opened
from monitor.history.keeper import DAY_SECONDS, Keeper
from monitor.history.spans import pin_days, span_of, unpin_days
from monitor.history.worker import AtOnce, Beside, tried
from replay.capture import CaptureError, open_capture, verify
from replay.seal import Grade, ending, grade_of
from replay.segments import pins, segments, tidy
from tests.monitor.history.recorded_live import MIDNIGHT, Machine

PLENTY = 10**12


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two sealed days and an open one, ten minutes each."""
    directory = tmp_path_factory.mktemp("record")
    coach = Machine(period=5.0, wall_zero=MIDNIGHT - 100.0 - 600.0)
    coach.run(directory, 1200.0)
    coach.off(DAY_SECONDS - 1800.0 - 600.0, "second start")
    coach.run(directory, 2400.0)
    return directory


@pytest.fixture
def record(made: Path, tmp_path: Path) -> Path:
    directory = tmp_path / "record"
    shutil.copytree(made, directory)
    return directory


def keeper(directory: Path, free: int = PLENTY, **rules: Any) -> Keeper:
    return Keeper(directory, dataclasses.replace(History(directory), **rules), lambda _: free)


def grades(directory: Path) -> list[Grade]:
    return [grade_of(open_capture(each.path).header) for each in segments(directory) if each.sealed]


def index_of(directory: Path) -> dict[str, list[tuple[Any, ...]]]:
    with opened(directory / "index.sqlite") as connection:
        return everything(connection)


def test_young_days_keep_every_row(record: Path) -> None:
    assert [each.label for each in segments(record)] == [
        "2023-11-14",
        "2023-11-15",
        "2023-11-15",
        "2023-11-16",
    ]
    before = {path.name: path.read_bytes() for path in record.glob("*.gz")}
    keeper(record).look_after(DAY_SECONDS * 2, 4)
    assert {path.name: path.read_bytes() for path in record.glob("*.gz")} == before
    assert len(before) == 3


def test_old_days_become_minutes_then_sums_and_the_ledger_stays(record: Path) -> None:
    sums = index_of(record)
    whole = list(open_capture(segments(record)[0].path).inputs())
    done = keeper(record, keep_days=30.0).look_after(30 * DAY_SECONDS + 1300.0, 4)
    assert done.aged == (1, 2)
    assert grades(record) == [Grade.MINUTE, Grade.MINUTE, Grade.FULL]
    thin = open_capture(segments(record)[0].path)
    minutes = [value for value in thin.inputs() if isinstance(value, Reading)]
    readings = [value for value in whole if isinstance(value, Reading)]
    assert len(minutes) == pytest.approx(len(readings) / 12, abs=1.5)
    channel = readings[0].values[1][0]
    mean = sum(float(dict(each.values)[channel]) for each in readings) / len(readings)
    thinned = sum(float(dict(each.values)[channel]) for each in minutes) / len(minutes)
    assert thinned == pytest.approx(mean, rel=0.005)
    others = [value for value in whole if isinstance(value, LinkState | Command)]
    assert [v for v in thin.inputs() if isinstance(v, LinkState | Command)] == others
    assert "one reading a minute" in thin.header.notes[0]
    done = keeper(record, keep_days=30.0, keep_years=0.5).look_after(400 * DAY_SECONDS, 4)
    done = keeper(record, keep_days=30.0, keep_years=0.5).look_after(400 * DAY_SECONDS, 4)
    assert grades(record) == [Grade.LEDGER] * 3
    assert all(verify(each.path).sound for each in segments(record))
    assert all(each.path.stat().st_size < 5000 for each in segments(record) if each.sealed)
    # What each day amounted to is what it was, and an index made anew says the same.
    now = index_of(record)
    assert now["pages"] == sums["pages"]
    assert now["events"] == sums["events"]
    assert reindex(record) == now


def test_sums_are_carried_with_a_digest_of_the_lines(record: Path) -> None:
    path = segments(record)[0].path
    found = ending(path)
    assert found is not None
    assert found.intact
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(bytes(data))
    after = ending(path)
    assert after is not None
    assert (after.summary, after.intact) == (found.summary, False)
    told: list[str] = []
    rows = reindex(record, told.append)
    assert rows["pages"] == index_of(record)["pages"]
    assert len(told) == 1
    assert "lines before its summary are damaged" in told[0]


@pytest.mark.parametrize("free", [0, PLENTY])
def test_what_is_pinned_is_never_thinned(record: Path, free: int) -> None:
    assert pin_days(record, "2023-11-14", "2023-11-14", "report of the  winter") == (1,)
    before = segments(record)[0].path.read_bytes()
    rules = {"keep_days": 1.0, "keep_years": 0.0}
    keeper(record, free, **rules).look_after(400 * DAY_SECONDS, 4)
    assert segments(record)[0].path.read_bytes() == before
    assert Grade.FULL not in grades(record)[1:]
    assert pins(record, 1) == ("report of the winter",)
    assert unpin_days(record, "2023-11-14", "2023-11-14", "somebody else") == ()
    assert unpin_days(record, "2023-11-14", "2023-11-14", "report of the winter") == (1,)
    keeper(record, free, **rules).look_after(400 * DAY_SECONDS, 4)
    assert grades(record)[0] is not Grade.FULL


def test_a_disk_nearly_full_thins_the_oldest_first_and_stops_when_there_is_room(
    record: Path,
) -> None:
    left = iter([10_000_000, 100_000_000, 10**9, 10**9, 10**9])
    looking = Keeper(record, History(record), lambda _: next(left))
    assert looking.look_after(DAY_SECONDS, 4).for_room == (1, 2)
    assert grades(record) == [Grade.MINUTE, Grade.MINUTE, Grade.FULL]
    # Nearly full for good: minutes are too small to be worth losing.
    assert keeper(record, free=100_000_000).look_after(DAY_SECONDS, 4).for_room == (3,)
    assert keeper(record, free=100_000_000).look_after(DAY_SECONDS, 4).for_room == ()
    assert keeper(record, free=0).look_after(DAY_SECONDS, 4).for_room == (1, 2, 3)
    assert grades(record) == [Grade.LEDGER] * 3
    assert keeper(record, free=0).look_after(DAY_SECONDS, 4).for_room == ()
    assert not segments(record)[-1].sealed  # what is being written is left alone


def test_a_record_larger_than_it_may_be_is_thinned(record: Path) -> None:
    with segments(record)[-1].path.open("ab") as file:
        file.truncate(11_000_000)
    done = keeper(record, keep_megabytes=10.0).look_after(DAY_SECONDS, 4)
    assert done.for_room == (1, 2, 3, 1, 2, 3)  # what is written alone is too large already


def test_a_live_feed_that_runs_out_of_room_says_so_and_goes_on(tmp_path: Path) -> None:
    coach = Machine(wall_zero=MIDNIGHT - 100.0 - 300.0)
    room = [PLENTY]
    coach.free = lambda _: room[0]

    def fill(_: object) -> None:
        room[0] = 150_000_000

    live = coach.run(tmp_path, 700.0, at=((400.0, fill),))
    assert live.failure is None
    assert grades(tmp_path) == [Grade.MINUTE]
    links = [
        value
        for value in open_capture(segments(tmp_path)[1].path).inputs()
        if isinstance(value, LinkState) and value.device == OwnLink.DISK
    ]
    assert [link.up for link in links] == [False]
    assert any(alarm.name == "disk-nearly-full" for alarm in live.snapshot().alarms)
    assert live.snapshot().banks[0].volts.figure is not None
    notes = [event for event in live.events(0) if event.name == Action.NOTE]
    assert ["no room: 1 older segments" in event.words for event in notes] == [True]


def test_half_done_work_is_tidied_away(record: Path) -> None:
    """A crash while sealing leaves a half file, or the plain file beside the sealed one."""
    sealed = segments(record)[0].path
    (record / (sealed.name + ".part")).write_bytes(b"half")
    plain = record / sealed.name.removesuffix(".gz")
    plain.write_bytes(b"as it was before")
    (record / "notes of mine.txt").write_text("stays")
    gone = tidy(record)
    assert {path.name for path in gone} == {sealed.name + ".part", plain.name}
    assert segments(record)[0].path == sealed
    assert (record / "notes of mine.txt").exists()


def test_days_are_chosen_and_dated(record: Path) -> None:
    span = span_of(record, "2023-11-15", "2023-11-15")
    assert [segment.number for segment, _ in span.held] == [2, 3]
    seconds = [value.seconds for value in span.inputs()]
    assert seconds == sorted(seconds)
    assert MIDNIGHT <= seconds[0] < MIDNIGHT + 2.0
    assert seconds[-1] < MIDNIGHT + DAY_SECONDS
    with pytest.raises(CaptureError, match="found from 2023-11-14 to 2023-11-16; choose among"):
        span_of(record, "2024-01-01", None)


def test_a_job_that_fails_is_a_line_and_the_next_is_done() -> None:
    done: list[int] = []

    def broken() -> None:
        raise ZeroDivisionError("what nobody thought of")

    for worker in (AtOnce(), Beside()):
        worker.do(broken)
        worker.do(lambda: done.append(1))
        worker.finish()
        assert worker.trouble is None
    assert done == [1, 1]
    line = tried(broken)
    assert line == "the record: a fault in this program: ZeroDivisionError: what nobody thought of"


def test_a_summary_is_plain_json(record: Path) -> None:
    found = ending(segments(record)[0].path)
    assert found is not None
    assert json.loads(json.dumps(found.summary)) == found.summary
