"""The report in terms of EEMUA 191 against an example worked by hand; the command that gives it.

The example, two days long (288 windows of ten minutes, 172 800 s):

* minute 0 to 9 of the first day: twelve alarms `a` to `l`, one each 50 s (0, 50, ... 550 s): one
  window with 12, more than 10, a flood;
* at 12 h, 12 h 10 min, ... 12 h 40 min: `house:flap` five times, each for a minute: a chatter,
  five within the hour;
* at 20 h `house:stands`, which stands to the end: 28 h, stale.

Eighteen alarms. Average 18 / 288 = 0.0625 in ten minutes; 9 a day; peak 12; one window of 288 in
flood = 0.35 %. Priorities: `a` to `l` low (12), `flap` medium (5), `stands` high (1): 66.7, 27.8
and 5.6 %. Worst: `flap` 5 of 18 = 27.8 %.
"""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from monitor.alarm_quality import BENCHMARKS, GUIDELINE, Record, Tally, judge
from monitor.cli import main
from monitor.engine.snapshot import Event, EventKind, Priority
from monitor.words.alarm_quality import reported
from tests.monitor.recordings import BANK_TOML

DAY = 86400.0
LOW, MEDIUM, HIGH = Priority.LOW, Priority.MEDIUM, Priority.HIGH


def example() -> list[Record]:
    burst = [
        Record(f"house:{name}", LOW, name, 50.0 * n, 50.0 * n + 5)
        for n, name in enumerate("abcdefghijkl")
    ]
    begin = DAY / 2
    flap = [
        Record("house:flap", MEDIUM, "flap", begin + 600.0 * n, begin + 600.0 * n + 60.0)
        for n in range(5)
    ]
    return [*burst, *flap, Record("house:stands", HIGH, "stands", 20 * 3600.0)]


def test_the_example_worked_by_hand() -> None:
    quality = judge(example(), 0.0, 2 * DAY)
    assert quality.alarms == 18
    assert quality.per_ten_minutes == pytest.approx(18 / 288)
    assert quality.per_day == pytest.approx(9.0)
    assert quality.peak == 12
    assert quality.flood_share == pytest.approx(1 / 288)
    assert quality.chattering == ("house:flap",)
    assert quality.stale == ("house:stands",)
    assert quality.mix == {LOW: 12 / 18, MEDIUM: 5 / 18, HIGH: 1 / 18}
    first = quality.worst[0]
    assert (first.key, first.times, first.share, first.chatters) == ("house:flap", 5, 5 / 18, True)
    assert len(quality.worst) == 10
    assert quality.worst_share == pytest.approx(14 / 18)
    above = {name for name in BENCHMARKS if quality.above(name)}
    assert above == {"peak", "chattering"}  # one stale of at most five; 0.35 % flood of at most 1 %


def test_a_period_counts_what_was_raised_in_it_and_what_stood_in_it() -> None:
    second = judge(example(), DAY, 2 * DAY)
    assert second.alarms == 0
    assert second.mix is None
    assert second.stale == ("house:stands",)
    early = judge(example(), 0.0, 600.0)
    assert (early.alarms, early.peak, early.flood_share) == (12, 12, 1.0)
    assert early.stale == ()
    assert early.per_day == pytest.approx(12 * 144)


def test_ten_in_a_window_are_no_flood_and_four_in_an_hour_no_chatter() -> None:
    ten = [Record(f"house:{n}", LOW, "", 60.0 * n - n) for n in range(10)]
    assert judge(ten, 0.0, 600.0).flood_share == 0.0
    four = [Record("house:x", LOW, "", 600.0 * n) for n in range(4)]
    slow = [Record("house:y", LOW, "", 900.0 * n) for n in range(9)]
    assert judge([*four, *slow], 0.0, DAY).chattering == ()


def test_a_day_exactly_is_not_stale_and_no_alarm_at_all_is_no_division_by_nothing() -> None:
    assert judge([Record("house:x", LOW, "", 0.0, DAY)], 0.0, 2 * DAY).stale == ()
    assert judge([Record("house:x", LOW, "", 0.0, DAY + 1)], 0.0, 2 * DAY).stale == ("house:x",)
    nothing = judge([], 0.0, DAY)
    assert nothing.alarms == nothing.peak == nothing.per_day == 0
    assert nothing.worst == ()
    assert "0 alarms in" in "\n".join(reported(nothing))


def test_the_published_values_stand_beside_the_figures_with_their_source() -> None:
    """EEMUA 191 and ISA-18.2 as trade press and memory have them; see the handbook's table."""
    assert BENCHMARKS["per_ten_minutes"].at_most == 1
    assert BENCHMARKS["peak"].at_most == 10
    assert BENCHMARKS["per_day"].at_most == 150
    assert BENCHMARKS["flood_share"].at_most == 0.01
    assert BENCHMARKS["stale"].at_most == 5
    assert BENCHMARKS["chattering"].at_most == 0
    assert list(GUIDELINE.values()) == [0.80, 0.15, 0.05]
    for benchmark in BENCHMARKS.values():
        assert any(name in benchmark.source for name in ("EEMUA 191", "ISA-18.2", "IEC 62682"))
        assert "secondary" in benchmark.source or "memory" in benchmark.source


def test_the_report_names_what_is_above() -> None:
    lines = list(reported(judge(example(), 0.0, 2 * DAY)))
    assert lines[0] == "18 alarms in 2 days"
    text = "\n".join(lines)
    assert "12        10  ABOVE" in text
    assert "0.3 %       1 %  (" in text
    assert "Chattering: house:flap" in text
    assert "Stale: house:stands" in text
    assert max(map(len, lines)) <= 120


def told(seconds: float, name: str, words: str) -> Event:
    return Event(1, seconds, EventKind.ALARM, name, "house", HIGH, words)


def test_records_follow_the_events_of_the_engine() -> None:
    tally = Tally()
    words = "Too hot."
    tally.add(Event(1, 9.0, EventKind.CONDITION, "hot", "house", HIGH, words))
    for event in (
        told(10.0, "hot", "normal -> unacknowledged"),
        told(20.0, "hot", "unacknowledged -> acknowledged (ann)"),
        told(30.0, "hot", "acknowledged -> normal"),
        told(40.0, "hot", "normal -> unacknowledged"),
        told(45.0, "hot", "chattering: raised 5 times in 40 min"),
        told(50.0, "hot", "unacknowledged -> returned to normal unacknowledged"),
        told(60.0, "hot", "returned to normal unacknowledged -> normal (ann -> bob)"),
        told(70.0, "low", "normal -> suppressed by design (explained by house:hot)"),
        told(80.0, "cold", "suppressed by design -> unacknowledged"),
        told(90.0, "cold", "unacknowledged -> shelved (ann)"),
    ):
        tally.add(event)
    assert tally.records == [
        Record("house:hot", HIGH, words, 10.0, 30.0, 20.0),
        Record("house:hot", HIGH, words, 40.0, 50.0),
        Record("house:cold", HIGH, "cold", 80.0, 90.0),
    ]


# The command.


@pytest.fixture
def table(tmp_path: Path) -> list[str]:
    """Two hours of a bank that grows too hot in the second, as a plain table with its bank."""
    path, bank = tmp_path / "hot.csv", tmp_path / "bank.toml"
    bank.write_text(BANK_TOML)
    rows = [f"{10 * n},12.6,-1.0,{40.0 + max(0, n - 360) / 14.0:.1f}" for n in range(720)]
    path.write_text("t_s,v_bank,i_net,temp_c\n" + "\n".join(rows) + "\n")
    return ["alarms", str(path), "--bank", str(bank)]


def test_the_list_and_the_report_of_a_table(
    table: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(table) == 0
    out = capsys.readouterr().out
    assert "HIGH" in next(line for line in out.splitlines() if "house:bank-hot" in line)
    assert "stands for" in out
    assert main([*table, "--to", "1h"]) == 0
    assert capsys.readouterr().out == "no alarm\n"
    assert main([*table, "--quality"]) == 0
    out = capsys.readouterr().out
    assert "Less than a day was looked at" in out
    assert "EEMUA 191" in out


def test_as_json_and_as_csv(table: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*table, "--json", "--quality"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert "house:bank-hot" in {alarm["key"] for alarm in document["alarms"]}
    assert document["quality"]["alarms"] == len(document["alarms"])
    assert document["benchmarks"]["peak"]["at_most"] == 10
    assert main([*table, "--csv"]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert "house:bank-hot" in {row["alarm"] for row in rows}
    assert main([*table, "--csv", "--quality"]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert {row["figure"] for row in rows} >= {*BENCHMARKS, "share_high"}


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (["--from", "9h"], "--from: expected a time within the recording"),
        (["--to", "soon"], "--to: expected seconds, 90m"),
        (["--from", "1h", "--to", "30m"], "--to: expected a time after 3600 s (--from)"),
    ],
)
def test_a_wrong_period_is_one_line(
    table: list[str], words: list[str], line: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*table, *words]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert line in error
