"""A commissioning begun in one recording and gone on with in another: replayed through both."""

from __future__ import annotations

from pathlib import Path

import pytest

from monitor.cli import main
from monitor.commission.record import CommissionRecord, Verdict
from monitor.commission.record_file import from_text
from monitor.recorded import open_recorded
from monitor.report.again import differences, leave_words, look_again, replayable
from monitor.report.made import earlier_runs
from tests.monitor.commission.test_looks import commissioned

_SECONDS = 200.0


def _twice(folder: Path, seed: int, killed: bool) -> CommissionRecord:
    commissioned(seed, folder, lasts=_SECONDS, name="monday.capture", killed=killed)
    return commissioned(seed + 50, folder, lasts=_SECONDS, name="tuesday.capture")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("twice")
    _twice(folder, 1, killed=False)
    return folder


@pytest.mark.parametrize(
    ("seed", "killed"),
    [
        (2, False),
        (3, True),
        pytest.param(4, True, marks=pytest.mark.slow),
        pytest.param(5, False, marks=pytest.mark.slow),
    ],
)
def test_both_recordings_come_to_the_record_to_the_last_bit(
    seed: int, killed: bool, tmp_path: Path
) -> None:
    kept = _twice(tmp_path, seed, killed)
    capture = tmp_path / "tuesday.capture"
    assert [each.capture for each in kept.recordings] == ["monday.capture", "tuesday.capture"]
    assert replayable(kept)
    runs = earlier_runs(kept, tmp_path / "coach.json", capture)
    found = look_again(kept, open_recorded(capture), capture.name, earlier=runs).record
    assert found.outcomes == kept.outcomes
    assert found.extremes == kept.extremes
    assert found.coverage == kept.coverage
    assert differences(kept, found, whole=True) == ()
    assert leave_words(kept, whole=True) == ""
    first = {each.evidence.capture for each in kept.outcomes if each.attempts}
    assert first == {"monday.capture", "tuesday.capture"}


def test_verify_says_so(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", "verify", str(folder / "coach.json")]) == 0
    told = capsys.readouterr().out
    assert "monday.capture is the recording of that day" in told
    assert "tuesday.capture is the recording of that day" in told
    assert "from 2 recordings, one after the other, come to what the record says" in told


def test_a_report_of_it_is_made_and_verified(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    report = folder / "report.html"
    made = ["report", "make", str(folder / "coach.json"), "-o", str(report)]
    assert main(made) == 0
    assert main(["report", "verify", str(report)]) == 0
    assert "Nothing has changed." in capsys.readouterr().out
    report.unlink()


def test_another_first_recording_is_found(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = _copied(folder, tmp_path)
    (tmp_path / "monday.capture").write_bytes((tmp_path / "tuesday.capture").read_bytes())
    assert main(["report", "verify", str(record)]) == 1
    told = capsys.readouterr().out
    assert "monday.capture is not the recording of that day" in told
    assert "CHANGED: replayed: " in told


def test_a_verdict_of_the_first_run_changed_is_found(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = _copied(folder, tmp_path)
    text = record.read_text()
    kept = from_text(text, "x")
    old = next(
        each
        for each in kept.outcomes
        if each.evidence.capture == "monday.capture" and each.verdict is Verdict.FAIL
    )
    record.write_text(text.replace(f'"why": "{old.why}"', '"why": "as it should be"'))
    assert main(["report", "verify", str(record)]) == 1
    assert "reason in the record is not what the recording gives" in capsys.readouterr().out


def test_without_the_first_recording_it_is_said_what_was_not_replayed(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = _copied(folder, tmp_path)
    (tmp_path / "monday.capture").unlink()
    main(["report", "verify", str(record)])
    told = capsys.readouterr().out
    assert "begun in it, and it is not there" in told
    assert "rests on monday.capture, and was not replayed" in told


def _copied(folder: Path, to: Path) -> Path:
    for name in ("monday.capture", "tuesday.capture", "coach.json"):
        (to / name).write_bytes((folder / name).read_bytes())
    return to / "coach.json"
