"""`watch`, `now`, `record` and `check` on devices that a recording plays: no hardware needed."""

from __future__ import annotations

from pathlib import Path

import pytest

from adapters.reading import Reading, Tick
from monitor.cli import main
from monitor.recorded import open_recorded
from replay.capture import open_capture
from tests.monitor.recordings import BANK_TOML, small_capture


@pytest.fixture
def coach(tmp_path: Path) -> Path:
    """A configuration whose shunt is a recording at sixty times its pace."""
    played = small_capture(tmp_path, 400)
    config = tmp_path / "coach.toml"
    config.write_text(
        f'{BANK_TOML}[devices.shunt]\nadapter = "replay"\ncapture = "{played}"\n'
        'device = "shunt"\nrate = 60\n'
    )
    return config


def broken(coach: Path) -> Path:
    """The same with a second device that is not there."""
    coach.write_text(
        coach.read_text()
        + '[devices.gone]\nadapter = "modbus-tcp"\nhost = "127.0.0.1"\nport = 1\n'
        + 'description = "modbus-template.toml"\n[sources.shore]\n'
    )
    return coach


def test_now_is_short_and_its_status_says_how_bad(
    coach: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status = main(["now", "--config", str(coach)])
    out, err = capsys.readouterr()
    lines = out.rstrip("\n").splitlines()
    assert status in (0, 10, 11, 12)
    assert err == ""
    assert 0 < len(lines) <= 8
    assert all(len(line) <= 40 for line in lines)
    assert len(out.encode()) < 1000
    assert "V" in out


def test_now_does_not_wait_for_a_device_that_is_not_there(
    coach: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["now", "--config", str(broken(coach)), "--wait", "20"]) in (10, 11, 12)
    assert "gone" in capsys.readouterr().out


def test_record_makes_a_capture_that_plays(
    coach: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out, state = tmp_path / "out.capture", tmp_path / "bank.state"
    words = ["record", str(out), "--config", str(coach), "--for", "1.5", "--state", str(state)]
    assert main(words) == 0
    assert "rows" in capsys.readouterr().out
    recorded = open_recorded(out)
    inputs = list(recorded.recording.inputs())
    assert isinstance(inputs[0], Tick)
    assert inputs[0].wall_offset is not None
    assert sum(isinstance(value, Reading) for value in inputs) >= 3
    assert open_capture(out).header.origin == "measured"
    assert open_capture(out).header.software.startswith("ampwright ")
    assert recorded.config.site.banks[0].amp_hours == 230.0
    assert main(["replay", str(out), "--headless"]) == 0
    assert state.exists()
    assert main(words) == 2
    assert "never written over" in capsys.readouterr().err


def test_check_shows_one_reading_of_each_device(
    coach: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", "--config", str(coach)]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert "banks house (flooded lead-acid, 12 V, 230 Ah)" in out
    assert "shunt: house bank voltage 12." in out


def test_check_tells_of_each_device_that_fails(
    coach: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", "--config", str(broken(coach))]) == 2
    out, err = capsys.readouterr()
    assert "shunt: house bank voltage" in out
    assert err.startswith("gone: ")
    assert err.count("\n") == 1


def test_check_tells_every_problem_of_the_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    config = tmp_path / "coach.toml"
    config.write_text('[banks.house]\nchemistry = "agmm"\nnominal_volts = 13\n')
    assert main(["check", "--config", str(config)]) == 2
    err = capsys.readouterr().err.splitlines()
    assert len(err) == 3
    assert all(line.startswith(f"{config}:") for line in err)


def test_a_live_command_needs_a_configuration_and_a_device(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "none"))
    assert main(["watch"]) == 2
    assert "ampwright init" in capsys.readouterr().err
    (tmp_path / "ampwright.toml").write_text(BANK_TOML)
    assert main(["watch"]) == 2
    assert "expected at least one device" in capsys.readouterr().err
