"""`history`, `record` without a capture, and `capture` on a directory: what people get to see."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from monitor.cli import main
from monitor.config_history import History
from monitor.history.book import CYCLE_SHARE, BankPage
from monitor.history.days import Cycle, Day, Range, months
from monitor.history.keeper import Keeper
from monitor.words.history import cycle_lines, day_lines, month_lines
from replay.recording import open_recording
from replay.segments import segments
from tests.monitor.history.recorded_live import MIDNIGHT, Machine
from tests.monitor.recordings import BANK_TOML, small_capture


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    directory = tmp_path_factory.mktemp("coach") / "record"
    Machine(wall_zero=MIDNIGHT - 100.0 - 600.0).run(directory, 1200.0)
    return directory


@pytest.fixture
def record(made: Path, tmp_path: Path) -> Path:
    shutil.copytree(made, tmp_path / "record")
    return tmp_path / "record"


Ran = tuple[int, list[str], str]


def run(capsys: pytest.CaptureFixture[str], *words: object) -> Ran:
    status = main([str(word) for word in words])
    out, err = capsys.readouterr()
    return status, out.splitlines(), err


def history(monkeypatch: pytest.MonkeyPatch, columns: int) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))


@pytest.mark.parametrize("columns", [80, 40])
@pytest.mark.parametrize("what", ["days", "cycles", "health", "segments"])
def test_every_table_fits_and_tells_the_bank(
    record: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    columns: int,
    what: str,
) -> None:
    history(monkeypatch, columns)
    status, lines, err = run(capsys, "history", what, "--directory", record)
    assert (status, err) == (0, "")
    assert max(map(len, lines)) <= columns
    text = "\n".join(lines)
    assert "2023-11" in text
    assert "house" in text or what == "segments"


def test_days_are_added_up_and_chosen(
    record: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    history(monkeypatch, 80)
    _, lines, _ = run(capsys, "history", "--directory", record)
    assert [line.split()[:3] for line in lines[3:-1]] == [
        ["2023-11-14", "3.3", "0.0"],
        ["2023-11-15", "3.2", "0.0"],
    ]
    _, lines, _ = run(capsys, "history", "--directory", record, "--from", "2023-11-15")
    assert len(lines) == 5
    _, lines, _ = run(capsys, "history", "--directory", record, "--to", "2020-01-01")
    assert lines == ["nothing recorded there yet"]
    status, _, err = run(
        capsys, *("history", "--directory", record, "--from", "2023-11-16", "--to", "2023-11-15")
    )
    assert (status, err) == (
        2,
        "ampwright: --from 2023-11-16 --to 2023-11-15: expected the earlier day first; exchange "
        "them\n",
    )


def test_a_record_whose_bank_was_never_full_says_where_it_begins(
    record: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    history(monkeypatch, 80)
    _, lines, _ = run(capsys, "history", "cycles", "--directory", record)
    (row,) = [line for line in lines if "so far" in line]
    assert row.startswith("record begins  ")
    assert lines[-2].startswith("house: its record begins 2023-11-14 ")
    history(monkeypatch, 40)
    _, lines, _ = run(capsys, "history", "cycles", "--directory", record)
    assert lines[1].startswith("record begins 2023-11-14 ")


@pytest.mark.usefixtures("record")
def test_the_zone_of_the_days_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    config = tmp_path / "coach.toml"
    for more, zone in (
        ("zone_hours = -7\n", "UTC-7 (zone_hours)"),
        ("zone_hours = 5.5\n", "UTC+5:30 (zone_hours)"),
        ("[site]\nlatitude = 44\nlongitude = -110\n", "UTC-7 (by the longitude)"),
        ("", "UTC (no zone_hours)"),
    ):
        config.write_text(f'{BANK_TOML}\n[history]\ndirectory = "record"\n{more}')
        _, lines, _ = run(capsys, "history", "--config", config)
        assert lines[-1] == f"times in {zone}"


def test_verify_names_the_damaged_segment(record: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, lines, _ = run(capsys, "capture", "verify", record)
    assert status == 0
    assert [": sound;" in line for line in lines] == [True, True]
    path = segments(record)[0].path
    data = bytearray(path.read_bytes())
    data[-3000] ^= 1
    path.write_bytes(bytes(data))
    status, lines, err = run(capsys, "capture", "verify", record)
    assert status == 2
    assert err.count("\n") == 1
    assert f"{path}: " in err
    assert "capture repair" in err


def test_reindex_says_what_it_made(record: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (record / "index.sqlite").unlink()
    status, _, err = run(capsys, "history", "--directory", record)
    assert status == 2
    assert f"make it with: ampwright capture reindex {record}" in err
    status, lines, err = run(capsys, "capture", "reindex", record)
    assert (status, err) == (0, "")
    assert lines[0].startswith(f"{record}: 2 segments, 2 pages, 0 cycles, ")
    assert run(capsys, "history", "--directory", record)[0] == 0


def test_days_are_exported_at_unix_time(
    record: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "day.csv"
    status, lines, _ = run(
        capsys, "capture", "export", record, out, "--from", "2023-11-15", "--to", "2023-11-15"
    )
    assert status == 0
    readings = [value.seconds for value in open_recording(out).inputs()]
    assert len(readings) == 60
    assert MIDNIGHT <= readings[0] < MIDNIGHT + 11.0
    assert "60 rows" in lines[0]


def test_pins_are_shown_and_let_go(record: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ("capture", "pin", record, "2023-11-14", "--for", "report of autumn")
    assert run(capsys, *words)[1] == ["kept as they are for report of autumn: 00001"]
    _, lines, _ = run(capsys, "history", "segments", "--directory", record)
    assert lines[0].endswith("pinned for report of autumn")
    Keeper(record, History(record, keep_days=1.0), lambda _: 10**12).look_after(1e8, 2)
    assert run(capsys, "history", "segments", "--directory", record)[1] == lines
    assert run(capsys, "capture", "unpin", record, "2023-11-14")[1] == ["let go: 00001"]
    assert run(capsys, "capture", "unpin", record, "2023-11-14")[1] == ["let go: none was kept"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("history", "--directory", "/none"), "/none: expected the directory of a record"),
        (("history", "--from", "yesterday"), "expected a day as in 2026-03-14, found 'yesterday'"),
        (("capture", "reindex", "/none"), "/none: expected the directory of a record, found none"),
        (("capture", "pin", "{record}", "2023-11-14"), "pin: expected for whom, found nobody"),
        (
            ("capture", "pin", "{record}", "2001-01-01", "--for", "me"),
            "expected recorded days from",
        ),
        (("history", "--config", "{config}"), "keeps no record; add a table [history]"),
        (("record", "--config", "{devices}"), "expected a capture to write or a table [history]"),
    ],
)
def test_mistakes_are_one_line(
    record: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    words: tuple[str, ...],
    said: str,
) -> None:
    config, with_devices = tmp_path / "coach.toml", tmp_path / "devices.toml"
    config.write_text(BANK_TOML)
    with_devices.write_text(
        f'{BANK_TOML}[devices.shunt]\nadapter = "replay"\n'
        f'capture = "{small_capture(tmp_path, 20)}"\ndevice = "shunt"\n'
    )
    places = {"record": record, "config": config, "devices": with_devices}
    try:
        status, _, err = run(capsys, *(word.format(**places) for word in words))
    except SystemExit as leaving:
        status, err = int(str(leaving.code)), capsys.readouterr().err
    assert status == 2
    assert said in err
    assert err.count("\n") == 1


def test_record_goes_on_where_it_stopped(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    config = tmp_path / "coach.toml"
    config.write_text(
        f'{BANK_TOML}[devices.shunt]\nadapter = "replay"\n'
        f'capture = "{small_capture(tmp_path, 400)}"\ndevice = "shunt"\nrate = 60\n'
        '[history]\ndirectory = "record"\n'
    )
    for _ in range(2):
        status, _, err = run(capsys, "record", "--config", config, "--for", "1")
        assert status == 0, err
    (segment,) = segments(tmp_path / "record")
    assert not segment.sealed
    status, lines, _ = run(capsys, "history", "segments", "--config", config)
    assert (status, len(lines)) == (0, 2)


def page(**figures: Any) -> dict[str, Any]:
    empty = BankPage("house", 230.0).page()
    ends = dict.fromkeys(
        ("end_soc", "capacity", "capacity_sd", "milliohms", "milliohms_sd", "label")
    )
    return {**json.loads(json.dumps(empty)), **ends, **figures}


def test_months_show_a_bank_age() -> None:
    days = []
    for number, (name, capacity) in enumerate(
        [("2026-01-30", 230.0), ("2026-01-31", 228.0), ("2026-02-01", 199.0)]
    ):
        day = Day(name, "house")
        day.add(
            number,
            page(
                capacity=capacity,
                capacity_sd=5.0,
                label=230.0,
                milliohms=4.25,
                milliohms_sd=0.2,
                seen_seconds=86400.0,
                full_seconds=21600.0,
                amp_hours_out=50.0,
                soc={"low": 0.4 + number / 10, "high": 1.0},
            ),
            0,
        )
        days.append(day)
    moment = 1_769_800_000.0  # 30 January 2026
    cycles = [Cycle("house", moment - 9e4, moment, 9e4, 50.0, 53.0, 0.4, Range(1.0, 9.0))]
    january, february = months(days, cycles, 0.0)
    assert (january.month, january.days, january.cycles) == ("2026-01", 2, 1)
    assert (january.amp_hours_out, january.lowest_soc, january.full_share) == (100.0, 0.4, 0.25)
    assert (february.capacity, february.cycles) == (199.0, 0)
    # Half an hour before the end of January in UTC is February two hours further east.
    late = [replace(cycles[0], ended=1_769_902_200.0)]
    assert [month.cycles for month in months(days, late, 0.0)] == [1, 0]
    assert [month.cycles for month in months(days, late, 7200.0)] == [0, 1]
    wide = month_lines([january, february], 80)
    assert "228 ± 10" in wide[3]
    assert "99 %" in wide[3]
    assert "87 %" in wide[4]
    assert "4.2 ± 0.4" in wide[3]
    assert max(map(len, wide)) <= 80
    assert max(map(len, month_lines([january], 40))) <= 40
    assert "1.06" in cycle_lines(cycles, 80, 0.0)[3]
    undated = Day(None, "house")
    undated.add(41, page(), 0)
    assert day_lines([undated], 80)[3].startswith("undated 41")


def test_a_cycle_counts_from_full_to_full_and_not_for_a_sip() -> None:
    from monitor.engine.snapshot import Glance, Stage

    bank = BankPage("house", 100.0)

    def flow(start: float, hours: float, amps: float, soc: float) -> None:
        for minute in range(int(hours * 60) + 1):
            stage = Stage.DISCHARGE if amps < 0 else Stage.BULK
            bank.take(
                Glance(start + minute * 60.0, 12.5, amps, 20.0, stage, soc, 0.1, None, None, None)
            )

    flow(0.0, 1.0, -1.0, 0.99)
    assert bank.full(3600.0) is None, "one ampere-hour is no cycle"
    assert 100.0 * CYCLE_SHARE > 1.0
    flow(3660.0, 5.0, -4.0, 0.8)
    flow(3660.0 + 18060.0, 6.0, 3.6, 0.9)
    cycle = bank.full(60_000.0)
    assert cycle is not None
    assert cycle["amp_hours_out"] == pytest.approx(20.0, abs=0.3)
    assert cycle["amp_hours_in"] == pytest.approx(21.6, abs=0.3)
    assert (cycle["began"], cycle["ended"], cycle["lowest_soc"]) == (3600.0, 60_000.0, 0.8)
    assert cycle["since_full"] is True
    assert bank.fulls == 2
    assert bank.stage_seconds["bulk"] == pytest.approx(6 * 3600.0)
    # What nobody saw is not counted: a silence longer than a minute adds nothing.
    before = bank.amp_hours_in
    flow(1e6, 0.0, 50.0, 0.9)
    assert bank.amp_hours_in == before
