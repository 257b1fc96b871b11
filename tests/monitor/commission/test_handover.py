"""The next service: agreed on by the installer, counted by the recorded clock, kept and printed."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from monitor.chemistries import CHEMISTRIES
from monitor.cli import main
from monitor.commission.check import Ask
from monitor.commission.checks_handover import months_on, usual_months
from monitor.commission.entry import EntryError, value_of_entry
from monitor.commission.look import Look
from monitor.commission.procedure import Procedure
from monitor.commission.record import Outcome, Verdict
from monitor.commission.record_file import as_text, from_text
from monitor.commission.said import Said
from monitor.commission.setting import Setting
from monitor.report.made import making_of
from tests.monitor.commission.coach import INSTALLATION, SITE
from tests.monitor.report.records import recorded_minutes

_WALL = datetime(2026, 11, 30, 12, tzinfo=UTC).timestamp()
_DATE = Ask("date", "Next service", date=True)


def _agreed(text: str, wall: float | None = _WALL, chemistry: str = "agm") -> Procedure:
    bank = replace(SITE.banks[0], chemistry=CHEMISTRIES[chemistry])
    procedure = Procedure(Setting(replace(SITE, banks=(bank,)), bank, INSTALLATION))
    procedure.look(Look(100.0, None if wall is None else wall - 100.0, volts=12.6))
    procedure.hear(Said(101.0, "I", "next-service", "begin"))
    procedure.hear(Said(102.0, "I", "next-service", "enter", f"date = {text}"))
    return procedure


def _outcome(procedure: Procedure) -> Outcome:
    return next(each for each in procedure.outcomes() if each.id == "next-service")


@pytest.mark.parametrize(
    ("text", "chemistry", "day"),
    [
        ("usual", "agm", "2027-11-30"),
        ("usual", "lfp", "2027-11-30"),
        ("usual", "flooded", "2027-02-28"),
        ("6 months", "agm", "2027-05-30"),
        ("1 month", "agm", "2026-12-30"),
        ("18m", "agm", "2028-05-30"),
        ("2027-05-01", "agm", "2027-05-01"),
    ],
)
def test_the_day_is_agreed_on_and_kept(text: str, chemistry: str, day: str) -> None:
    procedure = _agreed(text, chemistry=chemistry)
    assert _outcome(procedure).verdict is Verdict.PASS
    assert _outcome(procedure).why.startswith(day)
    assert procedure.record().next_service == day
    kept = from_text(as_text(procedure.record()), "x")
    assert kept.next_service == day
    setting = procedure.setting
    assert Procedure(setting, kept).record().next_service == day


@pytest.mark.parametrize("text", ["2020-01-01", "2026-11-30", "61 months", "2099-01-01"])
def test_a_day_that_cannot_be_meant_is_not_taken(text: str) -> None:
    outcome = _outcome(_agreed(text))
    assert outcome.verdict is Verdict.NOT_DONE
    assert "is not within the 60 months after 2026-11-30" in outcome.why
    assert _agreed(text).record().next_service == ""


def test_without_a_clock_only_a_day_will_do() -> None:
    assert "no clock was recorded" in _outcome(_agreed("usual", wall=None)).why
    assert _agreed("2027-05-01", wall=None).record().next_service == "2027-05-01"


@pytest.mark.parametrize(
    "text",
    ["", "soon", "2027-13-01", "2027-02-30", "1.5.2027", "0 months", "-3 months", "20270501"],
)
def test_what_is_no_day_is_refused_in_one_line(text: str) -> None:
    with pytest.raises(EntryError, match="expected a day as in 2027-05-01") as refused:
        value_of_entry(_DATE, text)
    assert "\n" not in str(refused.value)


def test_the_proposal_names_the_chemistry_and_where_it_comes_from() -> None:
    item = _agreed("usual", chemistry="flooded").item("next-service")
    assert item is not None
    assert "3 months for" in item.asks[0].words
    assert "common practice" in item.asks[0].words


def test_who_loses_water_is_looked_at_sooner() -> None:
    usual = {
        name: usual_months(Setting(SITE, replace(SITE.banks[0], chemistry=each), INSTALLATION))
        for name, each in CHEMISTRIES.items()
    }
    assert usual["flooded"] == 3
    assert {usual["agm"], usual["gel"], usual["lfp"]} == {12}


def test_months_end_where_a_month_does() -> None:
    assert months_on(date(2026, 8, 31), 6) == date(2027, 2, 28)
    assert months_on(date(2027, 11, 30), 3) == date(2028, 2, 29)
    assert months_on(date(2026, 12, 1), 1) == date(2027, 1, 1)


def test_the_report_prints_it_and_the_option_overrides(tmp_path: Path) -> None:
    path, capture = recorded_minutes(tmp_path)
    made = making_of(path, capture, software="x")
    assert made.changed == ()
    assert made.seal.next_service == "2027-05-26"
    assert main(["report", "make", str(path), "-o", str(tmp_path / "a.txt")]) == 0
    assert "2027-05-26" in (tmp_path / "a.txt").read_text()
    wish = ["--next-service", "2027-09-01", "-o", str(tmp_path / "b.txt")]
    assert main(["report", "make", str(path), *wish]) == 0
    told = (tmp_path / "b.txt").read_text()
    assert "2027-09-01" in told
    for name in ("a.txt", "b.txt"):
        assert main(["report", "verify", str(tmp_path / name)]) == 0


def test_another_day_in_the_record_is_found(tmp_path: Path) -> None:
    path, capture = recorded_minutes(tmp_path)
    path.write_text(path.read_text().replace('"next_service": "2027-05-26"', '"next_service": ""'))
    changed = making_of(path, capture, software="x").changed
    assert changed == ("next service: none in the record, 2027-05-26 from the recording",)
