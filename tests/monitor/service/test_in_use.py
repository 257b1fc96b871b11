"""What a running service reads is tried by nobody else: one line, and nothing is sent."""

from __future__ import annotations

from pathlib import Path

import pytest

from monitor.cli import main
from monitor.service.owner import owners, owning

CONFIG = """
[banks.house]
chemistry = "agm"
nominal_volts = 12
amp_hours = 100
[devices.shunt]
adapter = "sunspec"
host = "127.0.0.1"
port = 1
[devices.pack]
adapter = "sunspec"
port = "{port}"
"""


@pytest.fixture
def config(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path / "run"))
    (tmp_path / "ttyS9").touch()
    path = tmp_path / "coach.toml"
    path.write_text(CONFIG.format(port=tmp_path / "ttyS9"))
    return path


@pytest.mark.parametrize(
    "words",
    [
        ("check", "--config", "{config}"),
        ("devices", "--config", "{config}", "--polls", "1"),
        ("devices", "--host", "127.0.0.1", "--port", "1"),
        ("find", "--host", "127.0.0.1:1"),
        ("find", "--port", "{folder}/by-id"),
    ],
)
def test_the_line_of_a_running_service_is_left_alone(
    words: tuple[str, ...], config: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (config.parent / "by-id").symlink_to(config.parent / "ttyS9")
    given = [word.format(config=config, folder=config.parent) for word in words]
    with owning(str(config), "serve", "/run/there/socket"):
        assert main(given) == 2
        error = capsys.readouterr().err
        assert error.count("\n") == 1
        assert "read by process" in error
        assert "ampwright watch --socket /run/there/socket" in error
    assert owners() == ()
    main(given)  # whatever comes of it now, it was tried
    assert "read by process" not in capsys.readouterr().err


def test_another_line_is_nobodys_business(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with owning(str(config), "serve"):
        assert main(["find", "--port", str(config.parent / "ttyS8")]) == 2
    assert "no such port" in capsys.readouterr().err
