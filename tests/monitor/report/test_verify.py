"""`ampwright report`: made from files, never over a file, and what verify finds changed."""

from __future__ import annotations

import json
import shlex
import sys
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.commission.record import Verdict
from monitor.commission.record_file import load_record
from monitor.commission.session import evidence_of
from monitor.report.made import pin_for
from monitor.report.seal import Seal, seal_in
from replay.capture import compress
from replay.segments import pins, segment_path
from tests.monitor.report.records import NASTY, recorded_minutes


@pytest.fixture
def record(tmp_path: Path) -> Path:
    return recorded_minutes(tmp_path)[0]


def make(record: Path, kind: str = ".html", *more: str) -> Path:
    report = record.with_name(f"report{kind}")
    assert main(["report", "make", str(record), "-o", str(report), *more]) == 0
    return report


def line_of(capsys: pytest.CaptureFixture[str]) -> str:
    captured = capsys.readouterr()
    assert captured.err.count("\n") == 1
    return captured.err


def test_the_little_commissioning_judged_something(record: Path) -> None:
    kept = load_record(record)
    assert kept is not None
    verdicts = {each.key: each.verdict for each in kept.outcomes}
    assert verdicts["shunt-zero"] is Verdict.PASS
    assert verdicts["polarity"] is Verdict.PASS


@pytest.mark.parametrize("kind", [".html", ".txt", ".pdf"])
def test_nothing_has_changed(kind: str, record: Path, capsys: pytest.CaptureFixture[str]) -> None:
    if kind == ".pdf":
        pytest.importorskip("reportlab", reason="the extra report is not installed")
    report = make(record, kind, "--next-service", "2027-05-01", "--paper", "letter")
    assert main(["report", "verify", str(report)]) == 0
    told = capsys.readouterr().out
    assert told.count("same: ") == 4
    assert "letter by letter" in told
    assert told.endswith("Nothing has changed.\n")
    assert main(["report", "verify", str(record)]) == 0


def test_a_report_that_was_edited_is_found(
    record: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    report = make(record)
    text = report.read_text().replace("no torch at hand", "done and good")
    report.write_text(text)
    assert main(["report", "verify", str(report)]) == 1
    assert "it was edited" in capsys.readouterr().out


def test_a_record_that_was_edited_is_found_twice(
    record: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    report = make(record)
    document = json.loads(record.read_text())
    for each in document["outcomes"]:
        if each["id"] == "fuses":
            each["verdict"] = "pass"
    record.write_text(json.dumps(document))
    assert main(["report", "verify", str(report)]) == 1
    told = capsys.readouterr().out
    assert "CHANGED: " in told
    assert "its SHA-256 is not the printed one" in told
    assert "pass in the record, not done from the recording" in told


def test_another_recording_is_found_and_what_it_says_instead(
    record: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    report = make(record)
    other = tmp_path / "other"
    other.mkdir()
    _, capture = recorded_minutes(other, watts=-1.0)
    assert main(["report", "verify", str(report), "--capture", str(capture)]) == 1
    told = capsys.readouterr().out
    assert "is not the recording of that day" in told
    assert "pass in the record, FAIL from the recording" in told
    assert "highest amps" in told


def test_a_damaged_recording_is_found(record: Path, capsys: pytest.CaptureFixture[str]) -> None:
    report = make(record)
    capture = record.with_name("coach.capture")
    data = bytearray(capture.read_bytes())
    data[len(data) // 2] ^= 1
    capture.write_bytes(bytes(data))
    assert main(["report", "verify", str(report)]) == 1
    told = capsys.readouterr().out
    assert "is damaged: 1 damaged lines" in told
    assert told.endswith("Something HAS changed; see above.\n")


def test_a_report_is_not_made_from_another_recording(
    record: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = tmp_path / "other"
    other.mkdir()
    _, capture = recorded_minutes(other, watts=-1.0)
    wish = ["report", "make", str(record), "--capture", str(capture), "-o", str(other / "x.txt")]
    assert main(wish) == 2
    assert "it is another one or was changed" in line_of(capsys)
    assert not (other / "x.txt").exists()


def test_without_its_recording_it_is_asked_for_or_left_out(
    record: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record.with_name("coach.capture").unlink()
    report = record.with_name("x.txt")
    assert main(["report", "make", str(record), "-o", str(report)]) == 2
    assert "--no-capture" in line_of(capsys)
    assert main(["report", "make", str(record), "-o", str(report), "--no-capture"]) == 0
    assert "No recording was there to be plotted" in report.read_text()
    assert main(["report", "verify", str(report), "--no-capture"]) == 0


def test_nothing_is_written_over(record: Path, capsys: pytest.CaptureFixture[str]) -> None:
    report = make(record, ".txt")
    before = report.read_text()
    capsys.readouterr()
    assert main(["report", "make", str(record), "-o", str(report)]) == 2
    assert "is there already" in line_of(capsys)
    assert report.read_text() == before
    make(record, ".txt", "--replace", "--next-service", "2027-05-01")
    assert "2027-05-01" in report.read_text()


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["make", "none.json", "-o", "x.html"], "found no such file"),
        (["make", "coach.json", "-o", "x.doc"], "expected a name that ends in .html, .txt, .pdf"),
        (["make", "coach.capture", "-o", "x.html"], "expected a commissioning record"),
        (["make", "coach.json", "-o", "x.html", "--next-service", "soon"], "2026-03-14"),
        (["make", "coach.json", "-o", "none/x.html"], "no such file"),
        (["verify", "coach.capture"], "expected a report made by this program"),
        (["verify", "none.html"], "no such file"),
        (["example", "."], "not empty"),
    ],
)
def test_a_mistake_is_one_line(
    arguments: list[str],
    expected: str,
    record: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(record.parent)
    try:
        status = main(["report", *arguments])
    except SystemExit as ended:
        status = int(ended.code or 0)
    assert status == 2
    assert expected in line_of(capsys)


def test_without_the_library_it_says_how_to_get_it(
    record: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in [each for each in sys.modules if each.split(".")[0] == "reportlab"]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "reportlab", None)
    report = record.with_name("x.pdf")
    assert main(["report", "make", str(record), "-o", str(report)]) == 2
    assert f"{shlex.quote(sys.executable)} -m pip install reportlab==" in line_of(capsys)
    assert not report.exists()


def test_a_segment_of_a_record_is_pinned_and_an_open_one_refused(
    record: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = record.parent / "history"
    folder.mkdir()
    sealed = segment_path(folder, 7, "2026-03-14", sealed=True)
    compress(record.with_name("coach.capture"), sealed)
    assert pin_for(sealed, "coach.html")
    assert pins(folder, 7) == ("report coach.html",)
    assert not pin_for(record.with_name("coach.capture"), "coach.html")
    still = segment_path(folder, 8, "2026-03-15")
    still.write_bytes(record.with_name("coach.capture").read_bytes())
    wish = ["report", "make", str(record), "--capture", str(still), "-o", str(folder / "x.txt")]
    assert main(wish) == 2
    assert "still being written" in line_of(capsys)


@pytest.mark.parametrize("name", [NASTY, "a b-->c.json", "ü.json", ") Tj (", ""])
def test_the_seal_bears_any_name(name: str) -> None:
    seal = Seal(name, "00" * 32, name, "", "2027-05-01", -12600, "a4", "ampwright 0.1.0")
    assert seal.line.isascii()
    assert seal_in(f"<x {seal.line}>".encode(), "x") == seal
    assert seal_in(b"ampwright-report form=1", "x") is None


def test_the_example_is_what_its_record_says(tmp_path: Path) -> None:
    """Not replayed here (that is minutes on a small board): its digest, and what it names."""
    from monitor.report.example_files import put_example

    path, capture = put_example(tmp_path / "example")
    kept = load_record(path)
    assert kept is not None
    assert [each.key for each in kept.defects] == ["lugs@shore"]
    assert kept.open
    assert kept.evidence.digest == evidence_of(capture).digest


@pytest.mark.slow
def test_the_example_replays_to_the_same(tmp_path: Path) -> None:
    folder = tmp_path / "example"
    assert main(["report", "example", str(folder)]) == 0
    for kind in (".html", ".txt", ".pdf"):
        assert main(["report", "verify", str(folder / f"hazelbank{kind}")]) == 0


def test_a_figure_that_was_edited_by_very_little_is_found(
    record: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    document = json.loads(record.read_text())
    polarity = next(each for each in document["outcomes"] if each["id"] == "polarity")
    for figures in (polarity["figures"], polarity["attempts"][-1]["figures"]):
        figures[0]["figure"] *= 1.0001
    record.write_text(json.dumps(document))
    assert main(["report", "verify", str(record)]) == 1
    assert "CHANGED: replayed: " in capsys.readouterr().out


@pytest.mark.parametrize("change", ["who", "why", "note", "seconds"])
def test_what_stands_beside_the_figures_is_compared_too(
    change: str, record: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    document = json.loads(record.read_text())
    polarity = next(each for each in document["outcomes"] if each["id"] == "polarity")
    polarity[change] = 431.5 if change == "seconds" else "another"
    record.write_text(json.dumps(document))
    assert main(["report", "verify", str(record)]) == 1
    assert "in the record is not what the recording gives" in capsys.readouterr().out


def test_a_record_of_an_earlier_version_is_verified_as_it_was_made_and_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, _ = recorded_minutes(tmp_path, looks="")
    document = json.loads(path.read_text())
    del document["looks"]
    path.write_text(json.dumps(document))
    assert main(["report", "verify", str(path)]) == 0
    told = capsys.readouterr().out
    assert "note: the record was made by an earlier version" in told
    assert told.endswith("Nothing has changed.\n")
