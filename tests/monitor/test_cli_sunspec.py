"""A SunSpec device from the command line: asked for once, checked, its sign told."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.config import parse_config
from tests.adapters.sunspec.devices import serving
from tests.adapters.sunspec.images import BATTERY, COMMON, device_image, model_words
from tests.monitor.recordings import BANK_TOML
from tests.monitor.served import served

IMAGE = device_image(model_words(1, COMMON), model_words(802, BATTERY), [64_123, 1, 0])


def config(tmp_path: Path, port: int, *more: str) -> str:
    path = tmp_path / "coach.toml"
    lines = [
        BANK_TOML, "[devices.shunt]", 'adapter = "sunspec"', 'host = "127.0.0.1"', f"port = {port}"
    ]  # fmt: skip
    path.write_text("\n".join((*lines, *more)) + "\n")
    return str(path)


def test_the_check_tells_the_models_and_asks_for_the_sign(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with served(serving(IMAGE)) as port:
        assert main(["check", "--config", config(tmp_path, port)]) == 2
        out, err = capsys.readouterr()
        assert "shunt: SunSpec map at register 40000: Pinewater, Bank 4, 1.2, 0007" in out
        assert "shunt: model 802 at 40070, 62 registers: battery, 802 used as bank" in out
        assert "shunt: model 64123 at 40134, 1 registers: of one maker's own" in out
        assert "shunt: 802 A is -25.3 A now, of unknown sign: not used" in out
        assert "house bank voltage 13.42 V" in out
        assert "bank current" not in out
        (line,) = err.splitlines()
        assert 'add positive = "charging"' in line
        told = config(tmp_path, port, 'positive = "discharging"')
        assert main(["check", "--config", told]) == 0
        out, err = capsys.readouterr()
        assert "house bank current 25.3 A" in out
        assert err == ""


def test_the_check_of_a_device_without_a_map_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with served(serving({})) as port:
        assert main(["check", "--config", config(tmp_path, port)]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith("shunt: the device answers but has no SunSpec map at register 40000")


@pytest.mark.parametrize(
    ("answers", "options"),
    [
        (["coach-meter.local", "charging"], {"host": "coach-meter.local", "positive": "charging"}),
        (["", "/dev/serial/by-id/x", "up", "discharging"],
         {"port": "/dev/serial/by-id/x", "positive": "discharging"}),
        (["coach-meter.local", ""], {"host": "coach-meter.local"}),
        (["", "", ""], {}),
    ],
)  # fmt: skip
def test_init_asks_where_it_is_and_which_way_it_counts(
    answers: list[str],
    options: dict[str, str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    path = tmp_path / "coach.toml"
    bank = ["lfp", "12", "280", "", "", "", "", "", ""]
    words = "\n".join([*bank, "sunspec", *answers, *[""] * 4]) + "\n"
    monkeypatch.setattr("sys.stdin", io.StringIO(words))
    assert main(["init", str(path)]) == 0
    (shunt,) = parse_config(path.read_text(), str(path)).devices
    assert shunt.adapter == "sunspec"
    assert shunt.settings.options == options
    assert ("expected one of charging, discharging" in capsys.readouterr().out) == ("up" in answers)
    if "positive" not in options:
        assert '# positive = "charging"' in path.read_text()
