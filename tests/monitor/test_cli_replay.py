"""`ampwright replay` and `capture`: the same bytes at any rate, and every table as promised."""

from __future__ import annotations

import csv
import io
import itertools
import json
import math
from pathlib import Path

import pytest

from adapters.reading import Reading
from monitor.cli import main
from monitor.engine.engine import Engine
from monitor.engine.snapshot import Event, EventKind, Fact, Glance, Priority, Stage
from monitor.playthrough import TABLE_COLUMNS, event_line, paced, play_through, table_row
from monitor.recorded import open_recorded
from replay.capture import open_capture
from tests.monitor.recordings import BANK_TOML, shipped_inputs, small_capture
from tests.reference.truth_bank import bank_toml


@pytest.fixture(scope="module")
def capture(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return small_capture(tmp_path_factory.mktemp("replay"), 800)


def table_of(capture: Path, rate: float) -> tuple[str, str, float]:
    """Table and events at a rate by a clock that only sleeping moves, and how long it took."""
    recorded = open_recorded(capture)
    now = 0.0

    def sleep(seconds: float) -> None:
        nonlocal now
        now += seconds

    table, events = io.StringIO(), io.StringIO()
    play_through(
        paced(recorded.recording.inputs(), rate, lambda: now, sleep),
        Engine(recorded.site, recorded.state),
        "house",
        table=table,
        events=events,
    )
    return table.getvalue(), events.getvalue(), now


def test_the_same_bytes_at_any_rate(capture: Path, tmp_path: Path) -> None:
    table, events, took = table_of(capture, math.inf)
    span = open_capture(capture).end - open_capture(capture).start
    assert took == 0.0
    for rate in (1.0, 60.0):
        again, events_again, took = table_of(capture, rate)
        assert (again, events_again) == (table, events)
        assert took == pytest.approx(span / rate)
    out, jsonl = tmp_path / "t.csv", tmp_path / "e.jsonl"
    for rate_words in ("max", "1e6"):
        words = ["replay", str(capture), "--rate", rate_words]
        assert main([*words, "--table", str(out), "--events", str(jsonl)]) == 0
        assert out.read_text() == table
        assert jsonl.read_text() == events


def test_one_row_for_every_reading(capture: Path) -> None:
    table, _, _ = table_of(capture, math.inf)
    rows = list(csv.DictReader(io.StringIO(table)))
    readings = [v for v in open_capture(capture).inputs() if isinstance(v, Reading)]
    assert tuple(rows[0]) == TABLE_COLUMNS
    assert [float(row["t_s"]) for row in rows] == [r.seconds for r in readings]
    for row in rows:
        assert row["stage"] in {"", *Stage}
        assert row["soc"] == "" or 0.0 <= float(row["soc"]) <= 1.0
        assert row["soc_sd"] == "" or 0.0 < float(row["soc_sd"]) < 1.0


def test_the_table_is_causal(capture: Path) -> None:
    """A row says nothing that a shorter recording could not have said."""
    recorded = open_recorded(capture)
    inputs = list(recorded.recording.inputs())
    whole, part = io.StringIO(), io.StringIO()
    play_through(inputs, Engine(recorded.site), "house", table=whole)
    play_through(inputs[:300], Engine(recorded.site), "house", table=part)
    assert whole.getvalue().startswith(part.getvalue())


def test_a_row_and_an_event_are_written_plainly() -> None:
    full = Glance(5.0, 12.6, 3.0, None, Stage.FLOAT, 0.98765432, 0.01, 3600.04, 0.0, 7200.0)
    assert table_row(12345.678, full) == "12345.678,float,0.987654,0.010000,3600.0,0.0,7200.0\n"
    empty = Glance(5.0, None, None, None, None, None, None, None, None, None)
    assert table_row(1e6 + 0.25, empty) == "1000000.25,,,,,,\n"
    fact = Fact("held voltage", "14.4 V for 10 min", (("volts", 14.4),))
    event = Event(3, 7.5, EventKind.STAGE, "float", "house", Priority.NONE, "a\nb", (fact,))
    line = event_line(event)
    assert line.count("\n") == 1
    assert json.loads(line) == {
        "t_s": 7.5,
        "kind": "stage",
        "name": "float",
        "target": "house",
        "priority": "none",
        "words": "a\nb",
        "evidence": [
            {"rule": "held voltage", "words": "14.4 V for 10 min", "figures": {"volts": 14.4}}
        ],
    }


def test_headless_ends_with_a_summary(
    capture: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["replay", str(capture), "--table", str(tmp_path / "t.csv")]) == 0
    out, err = capsys.readouterr()
    assert "readings over" in out
    assert "events: " in out
    assert "rows of bank house" in out
    assert err == ""
    assert not list(tmp_path.glob("*.part"))


def test_without_a_terminal_it_says_what_changes(
    capture: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["replay", str(capture), "--plain"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert any("bulk" in line for line in lines)
    assert not any("no device gives it" in line for line in lines)


def test_a_table_on_stdout_stands_alone(capture: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["replay", str(capture), "--table", "-"]) == 0
    out, err = capsys.readouterr()
    assert out == table_of(capture, math.inf)[0]
    assert "readings over" in err


def csv_table(path: Path, count: int = 300, header: str = "t_s,v_bank,i_net,temp_c") -> Path:
    rows = (f"{5 * n},{12.2 + n / 1000:.3f},{20.0 + n % 3},21.5" for n in range(count))
    path.write_text("\n".join([header, *rows]) + "\n")
    return path


def test_a_plain_table_takes_its_bank_from_a_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table, bank = csv_table(tmp_path / "x.csv"), tmp_path / "bank.toml"
    bank.write_text(BANK_TOML)
    out = tmp_path / "out.csv"
    assert main(["replay", str(table), "--bank", str(bank), "--table", str(out)]) == 0
    rows = list(csv.DictReader(out.open()))
    assert len(rows) == 300
    assert rows[-1]["stage"] == "bulk"
    assert main(["replay", str(table)]) == 2
    assert "--bank BANK.toml" in capsys.readouterr().err


def test_columns_may_have_other_names(tmp_path: Path) -> None:
    table = csv_table(tmp_path / "x.csv", 50, "time,Volts,Amps,Temp")
    bank, out = tmp_path / "bank.toml", tmp_path / "out.csv"
    bank.write_text(BANK_TOML)
    mapping = "t_s=time,v_bank=Volts,i_net=Amps,temp_c=Temp"
    words = ["replay", str(table), "--bank", str(bank), "--columns", mapping]
    assert main([*words, "--table", str(out)]) == 0
    assert len(out.read_text().splitlines()) == 51


def test_source_columns_make_a_source(tmp_path: Path) -> None:
    path, bank = tmp_path / "x.csv", tmp_path / "bank.toml"
    path.write_text("t_s,v_bank,i_net,v_source\n0,12.6,5,12.7\n5,12.6,5,12.7\n")
    bank.write_text(BANK_TOML)
    recorded = open_recorded(path, bank)
    assert [(source.id, source.bank) for source in recorded.site.sources] == [("source", "house")]
    bank.write_text(BANK_TOML + '[sources.roof]\nkind = "solar"\n')
    recorded = open_recorded(path, bank)
    assert [source.id for source in recorded.site.sources] == ["roof"]
    engine = Engine(recorded.site)
    for value in recorded.recording.inputs():
        engine.step(value)
    assert engine.snapshot().sources[0].volts.figure == 12.7


def test_another_bank_can_stand_in(capture: Path, tmp_path: Path) -> None:
    bank = tmp_path / "bank.toml"
    bank.write_text(BANK_TOML.replace("house", "mine").replace("230", "460"))
    recorded = open_recorded(capture, bank)
    (one,) = recorded.site.banks
    assert (one.id, one.amp_hours) == ("house", 460.0)
    assert {source.bank for source in recorded.site.sources} == {"house"}


def test_a_bank_that_is_not_in_the_recording(capture: Path, tmp_path: Path) -> None:
    bank = tmp_path / "bank.toml"
    bank.write_text(BANK_TOML + BANK_TOML.replace("house", "start"))
    assert main(["replay", str(capture), "--bank", str(bank), "--headless"]) == 2
    assert main(["replay", str(capture), "--of", "start", "--headless"]) == 2


def test_import_verify_export_come_round(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table, bank = csv_table(tmp_path / "x.csv"), tmp_path / "bank.toml"
    bank.write_text(BANK_TOML)
    made, back = tmp_path / "x.capture", tmp_path / "back.csv"
    assert main(["capture", "import", str(table), str(made), "--bank", str(bank)]) == 0
    assert main(["capture", "verify", str(made)]) == 0
    assert "300 readings" in capsys.readouterr().out
    assert main(["capture", "export", str(made), str(back)]) == 0
    before, after = (list(csv.DictReader(path.open())) for path in (table, back))
    assert len(before) == len(after)
    for one, other in zip(before, after, strict=True):
        assert {k: float(v) for k, v in one.items()} == {k: float(v) for k, v in other.items()}
    one, other = tmp_path / "1.csv", tmp_path / "2.csv"
    assert main(["replay", str(table), "--bank", str(bank), "--table", str(one)]) == 0
    assert main(["replay", str(made), "--table", str(other)]) == 0
    assert one.read_bytes() == other.read_bytes()
    assert main(["capture", "import", str(made), str(back) + "2", "--bank", str(bank)]) == 2
    assert main(["capture", "import", str(table), str(made), "--bank", str(bank)]) == 2


def test_a_capture_without_its_header_plays_with_a_bank(capture: Path, tmp_path: Path) -> None:
    lines = capture.read_bytes().splitlines(keepends=True)
    broken, mended = tmp_path / "broken.capture", tmp_path / "mended.capture"
    broken.write_bytes(lines[0][:60] + b"\n" + b"".join(lines[1:]))
    assert main(["replay", str(broken), "--headless"]) == 2
    assert main(["capture", "repair", str(broken), str(mended)]) == 0
    bank, out = tmp_path / "bank.toml", tmp_path / "out.csv"
    bank.write_text(BANK_TOML.replace("house", "other"))
    assert main(["replay", str(mended), "--bank", str(bank), "--table", str(out)]) == 0
    rows = len(out.read_text().splitlines()) - 1
    assert rows == sum(isinstance(value, Reading) for value in shipped_inputs(800))


def test_paced_waits_for_what_comes_next() -> None:
    inputs = [Reading(float(t), "d", ()) for t in (10, 11, 14)]
    waits: list[float] = []
    clock = itertools.count(0.0, 0.0)
    assert list(paced(inputs, 2.0, lambda: next(clock), waits.append)) == inputs
    assert waits == [0.5, 2.0]


def test_the_bank_of_a_truth_capture() -> None:
    public = {
        "chemistry": "agm",
        "nominal_v": 24,
        "ah_nameplate": 180,
        "setpoints": {"absorption": 28.8, "float": 27.2, "tempco_mv_per_cell": -3},
        "reserve_soc": 0.5,
    }
    from monitor.config import parse_config

    (bank,) = parse_config(bank_toml(public), "bank.toml").site.banks
    assert (bank.chemistry.name, bank.nominal_volts, bank.amp_hours) == ("agm", 24, 180.0)
    assert (bank.set_points.absorption, bank.set_points.float_) == (28.8, 27.2)
    assert bank.set_points.compensation_mv_per_celsius_per_cell == -3.0
    assert bank.lowest_soc == 0.5
    (hidden,) = parse_config(bank_toml({**public, "setpoints": None}), "b.toml").site.banks
    assert hidden.set_points.absorption is None
