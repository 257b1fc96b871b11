"""The record as a live feed keeps it: a segment a day, each of which plays alone; nothing lost
by a kill; clocks that lie."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import pytest

from adapters.reading import Reading, Tick
from monitor.config import parse_config
from monitor.engine.engine import Engine
from monitor.engine.snapshot import AlarmState, EventKind, Glance, Stage
from monitor.history import writing
from monitor.history.book import BankPage
from monitor.history.entries import reindex, worked_out
from monitor.history.index import everything, opened
from monitor.kept_state import STATE_NAME, load_state
from monitor.live import Live
from replay.capture import CaptureError, CaptureWriter, open_capture, verify
from replay.seal import ending
from replay.segments import segments
from tests.monitor.history.recorded_live import MIDNIGHT, TOML, WALL, Machine, config

BEFORE_MIDNIGHT = MIDNIGHT - WALL - 100.0 - 600.0


def machine(**options: object) -> Machine:
    """One whose clock shows ten minutes to midnight."""
    made = Machine(**options)  # type: ignore[arg-type]
    made.wall_zero = WALL + BEFORE_MIDNIGHT
    return made


def index_of(directory: Path) -> dict[str, list[tuple[object, ...]]]:
    with opened(directory / "index.sqlite") as connection:
        return everything(connection)


def engine_after(path: Path) -> Engine:
    """An engine that played one segment alone."""
    capture = open_capture(path)
    header = capture.header
    config = parse_config(header.config, "header", header.descriptions)
    assert header.state is not None
    engine = Engine(config.site, dict(header.state))
    for value in capture.inputs():
        engine.step(value)
    return engine


def test_a_day_ends_at_midnight_and_each_plays_alone(tmp_path: Path) -> None:
    live = machine().run(tmp_path, 1500.0)
    assert live.failure is None
    first, second = segments(tmp_path)
    assert (first.label, first.sealed) == ("2023-11-14", True)
    assert (second.label, second.sealed) == ("2023-11-15", False)
    assert verify(first.path).sound
    assert verify(second.path).sound
    before, after = open_capture(first.path), open_capture(second.path)
    assert before.end < 600.0 <= after.start < 606.0
    at_midnight = engine_after(first.path).state()
    assert after.header.state == json.loads(json.dumps(at_midnight))
    assert engine_after(second.path).state() == live._showing.state()


def test_the_index_is_made_again_from_the_segments_alone(tmp_path: Path) -> None:
    machine().run(tmp_path, 1500.0)
    kept = index_of(tmp_path)
    assert len(kept["segments"]) == len(kept["pages"]) == 2
    assert kept["events"]
    (tmp_path / "index.sqlite").write_bytes(b"a bad disk" * 1000)
    with pytest.raises(CaptureError, match=r"index\.sqlite: cannot be used .* capture reindex"):
        index_of(tmp_path)
    assert reindex(tmp_path) == kept
    assert index_of(tmp_path) == kept


def test_a_summary_is_what_its_own_lines_give(tmp_path: Path) -> None:
    machine().run(tmp_path, 900.0)
    sealed = segments(tmp_path)[0]
    found = ending(sealed.path)
    assert found is not None
    assert found.intact
    assert found.summary == worked_out(open_capture(sealed.path))
    page = found.summary["banks"][0]  # type: ignore[index]
    rows = [value for value in open_capture(sealed.path).inputs() if isinstance(value, Reading)]
    amps = [dict(row.values)[row.values[1][0]] for row in rows]
    pairs = itertools.pairwise(amps)
    counted = sum(float(a) + float(b) for a, b in pairs) / 2 * 10 / 3600
    assert page["amp_hours_in"] == pytest.approx(counted, rel=1e-6)
    assert page["volts"]["low"] == 12.7


@pytest.mark.parametrize("kill_at", [30.0, 605.0, 1300.0])
def test_a_kill_loses_nothing_and_the_segment_goes_on(tmp_path: Path, kill_at: float) -> None:
    """Started again in the same minute: the file goes on, and plays as if nothing had been."""
    coach = machine()
    killed = coach.run(tmp_path, kill_at, kill=True)
    on_disk = [value for each in segments(tmp_path) for value in open_capture(each.path).inputs()]
    assert on_disk[-1].seconds > kill_at - 61.0
    coach.uptime += 7.0
    live = coach.run(tmp_path, 1500.0 - kill_at)
    held = segments(tmp_path)
    assert len(held) == 2
    whole = [value for each in held for value in open_capture(each.path).inputs()]
    assert whole[: len(on_disk)] == on_disk
    assert live.failure is None
    assert all(verify(each.path).sound for each in held)
    # What was learned up to the last row on disk is known, and what was not is not.
    assert engine_after(held[-1].path).state() == live._showing.state()
    assert killed._showing.snapshot().banks[0].charge.soc.figure is not None
    numbers = [event.number for event in live.events(0)]
    assert numbers == list(range(1, len(numbers) + 1))
    assert reindex(tmp_path) == index_of(tmp_path)


def test_the_tail_teaches_what_the_kept_state_missed(tmp_path: Path) -> None:
    """The state file is as of 600 s; the rows go on to 1100 s; so does the charge that is known."""
    coach = Machine()
    killed = coach.run(tmp_path, 1110.0, kill=True)
    kept = load_state(tmp_path / "bank.state")
    assert kept is not None
    assert kept.seconds < 605.0
    coach.off(30.0, "second start")
    live = coach.run(tmp_path, 5.0)
    last = open_capture(segments(tmp_path)[0].path).end
    assert last > 1050.0
    before, after = killed._showing.snapshot().banks[0], live._showing.snapshot().banks[0]
    assert after.charge.soc.figure == pytest.approx(before.charge.soc.figure, abs=0.002)
    stale = Engine(live.site, kept.engine).snapshot().banks[0].charge.soc.figure
    assert stale is not None
    assert before.charge.soc.figure is not None
    assert abs(stale - before.charge.soc.figure) > 0.005
    # A power cut begins another segment, with all of it in its header.
    assert len(segments(tmp_path)) == 2
    header = open_capture(segments(tmp_path)[1].path).header
    assert header.state == json.loads(json.dumps(engine_after(segments(tmp_path)[0].path).state()))


@pytest.mark.parametrize("lost", ["state", "damaged", "older"])
def test_without_a_usable_state_the_segment_alone_tells_the_same(tmp_path: Path, lost: str) -> None:
    coach = Machine()
    coach.run(tmp_path, 300.0)
    state = tmp_path / "bank.state"
    old = state.read_bytes()
    coach.run(tmp_path, 400.0)
    if lost == "state":
        state.unlink()
    elif lost == "damaged":
        state.write_bytes(old.replace(b"1", b"2"))
    else:
        state.write_bytes(old)
    live = coach.run(tmp_path, 300.0)
    (segment,) = segments(tmp_path)
    assert engine_after(segment.path).state() == live._showing.state()
    assert (tmp_path / "bank.state.aside").exists() is (lost == "damaged")


def test_a_clock_that_wakes_in_2020_leaves_no_trace_of_it(tmp_path: Path) -> None:
    """Undated until the clock is set; then everything of this start is dated by it."""
    asleep = Machine(wall_zero=1_577_836_800.0)

    def set_clock(_: Live) -> None:
        asleep.wall_zero = WALL + BEFORE_MIDNIGHT - 3000.0

    live = asleep.run(tmp_path, 700.0, at=((300.0, set_clock),))
    (segment,) = segments(tmp_path)
    assert segment.label == "undated"
    assert open_capture(segment.path).header.wall_offset is None
    told = [v for v in open_capture(segment.path).inputs() if isinstance(v, Tick) and v.wall_offset]
    assert [tick.wall_offset for tick in told] == [
        pytest.approx(WALL + BEFORE_MIDNIGHT - 2900.0, abs=1)
    ]
    (row,) = index_of(tmp_path)["segments"]
    assert row[-1] == "2023-11-14"
    assert reindex(tmp_path)["segments"] == [row]
    assert [event.kind for event in live.events(0)].count(EventKind.ALARM) == 0
    assert not live.snapshot().alarms
    page = json.loads(str(index_of(tmp_path)["pages"][0][2]))
    assert page["amp_hours_in"] == pytest.approx(20.0 * 690.0 / 3600.0, rel=0.02)


def test_a_start_without_a_clock_after_a_known_one(tmp_path: Path) -> None:
    """Time stands where it was last known, until the clock is set: one jump, one low alarm, and
    the earlier rows of that start are dated by it."""
    coach = Machine()
    coach.run(tmp_path, 400.0)
    coach.off(5 * 3600.0, "second start", wall_zero=1_577_836_800.0)

    def set_clock(_: Live) -> None:
        coach.wall_zero = WALL + 500.0 + 5 * 3600.0

    live = coach.run(tmp_path, 600.0, at=((300.0, set_clock),))
    first, second = index_of(tmp_path)["segments"]
    assert first[-1] == "2023-11-14"
    assert second[-1] == "2023-11-15"
    started = float(second[5]) + float(second[9])  # type: ignore[arg-type]
    assert started == pytest.approx(WALL + 505.0 + 5 * 3600.0, abs=3.0)
    assert reindex(tmp_path) == index_of(tmp_path)
    (alarm,) = [each for each in live.snapshot().alarms if each.state is not AlarmState.NORMAL]
    assert alarm.name == "clock-jumped"
    # The clock moved by five hours; the charge by the ten minutes that were measured.
    page = json.loads(str(index_of(tmp_path)["pages"][1][2]))
    assert page["amp_hours_in"] == pytest.approx(20.0 * 600.0 / 3600.0, rel=0.03)


def test_a_clock_that_steps_back_makes_no_day_twice(tmp_path: Path) -> None:
    """Past midnight, and then set back before it: what was recorded is dated by the clock as it
    was set last, so there is one day of it, in one order."""
    coach = machine()

    def back(_: Live) -> None:
        coach.wall_zero -= 1800.0

    live = coach.run(tmp_path, 1500.0, at=((900.0, back),))
    held = segments(tmp_path)
    assert [each.number for each in held] == [1, 2]
    days = [row[-1] for row in index_of(tmp_path)["segments"]]
    assert days == ["2023-11-14", "2023-11-14"]
    seconds = [value.seconds for each in held for value in open_capture(each.path).inputs()]
    assert seconds == sorted(seconds)
    assert engine_after(held[-1].path).state() == live._showing.state()
    assert reindex(tmp_path) == index_of(tmp_path)


def test_a_board_that_never_learns_the_time_still_ends_its_segments(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writing, "LONGEST_SECONDS", 600.0)
    Machine(wall_zero=1_577_836_800.0).run(tmp_path, 900.0)
    assert [each.label for each in segments(tmp_path)] == ["undated", "undated"]
    assert [row[-1] for row in index_of(tmp_path)["segments"]] == [None, None]


def test_another_configuration_begins_another_segment(tmp_path: Path) -> None:
    coach = Machine()
    coach.run(tmp_path, 100.0)
    other = parse_config(TOML.format(period=10.0, more="keep_days = 3\n"), "coach.toml")
    live = coach.run(tmp_path, 100.0, config_text=other)
    first, second = segments(tmp_path)
    assert open_capture(second.path).header.config == other.text
    assert first.sealed  # what is finished is packed at the next start at the latest
    assert live.snapshot().banks[0].charge.soc.figure is not None


def test_a_disk_that_refuses_at_the_start_stops_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The display goes on and says so; once there is room the record begins, and plays alone."""
    refuses = [True]

    class Refusing(CaptureWriter):
        def __init__(self, path: Path, *rest: object, **more: object) -> None:
            if refuses[0]:
                raise CaptureError(f"{path}: cannot be made (No space left); free some space")
            super().__init__(path, *rest, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(writing, "CaptureWriter", Refusing)
    seen: list[tuple[str, ...]] = []

    def look(live: Live) -> None:
        seen.append(tuple(alarm.name for alarm in live.snapshot().alarms))
        assert live.snapshot().banks[0].volts.figure is not None
        refuses[0] = False

    live = Machine().run(tmp_path, 400.0, at=((90.0, look),))
    assert seen == [("recording-stopped",)]
    assert live.failure is None
    (segment,) = segments(tmp_path)
    assert 90.0 < open_capture(segment.path).start < 180.0
    assert engine_after(segment.path).state() == live._showing.state()
    assert live.closing is not None
    assert live.closing.trouble is None
    refuses[0] = True
    asleep = Machine(boot="another").run(tmp_path, 30.0)
    assert asleep.closing is not None
    assert "free some space" in str(asleep.closing.trouble)
    assert asleep.closing.lost > 3


def test_one_record_has_one_writer(tmp_path: Path) -> None:
    from monitor.history.lock import Lock

    lock = Lock(tmp_path)
    with pytest.raises(CaptureError, match=r"process \d+ records into it already; stop"):
        Machine().run(tmp_path, 1.0)
    lock.let_go()
    Machine().run(tmp_path, 1.0)


def test_a_look_begins_from_the_record_and_touches_nothing(tmp_path: Path) -> None:
    """`now` and `plan` without a service know what was learned, also of the last minutes."""
    made = machine()
    record = tmp_path / "record"
    ended = made.run(record, 3 * 3600.0 + 400.0, kill=True)

    def print_of() -> dict[str, tuple[int, bytes]]:
        return {
            path.name: (path.stat().st_mtime_ns, path.read_bytes()) for path in record.iterdir()
        }

    before = print_of()
    clocks = {"monotonic": lambda: made.uptime, "wall": lambda: made.wall_zero + made.uptime}
    looking = Live(config(), adapters=[], look_from=record, boot=made.boot, **clocks)
    (known,), (then,) = looking.snapshot().banks, ended.snapshot().banks
    assert known.charge == then.charge
    assert looking.now() == pytest.approx(ended.now(), abs=1.0)
    looking.finish()
    assert print_of() == before

    (record / STATE_NAME).write_text("{")
    damaged = print_of()
    (unknown,) = Live(config(), adapters=[], look_from=record, **clocks).snapshot().banks
    assert unknown.charge.soc.figure is None
    assert print_of() == damaged
    (empty,) = Live(config(), adapters=[], look_from=tmp_path / "none", **clocks).snapshot().banks
    assert empty.charge.soc.figure is None
    assert not (tmp_path / "none").exists()


def test_hours_in_which_the_bank_is_not_read_are_no_stage_s() -> None:
    page = BankPage("house", 100.0)
    for second in range(0, 1200, 10):
        volts = 13.6 if second < 600 else None
        page.take(Glance(float(second), volts, volts, 20.0, Stage.FLOAT, 1.0, 0.01, *[None] * 3))
    assert page.stage_seconds == {"float": 600.0}
    assert page.full_seconds == 600.0
