"""`ampwright init`: a configuration from answers, wrong ones asked for again."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.config import parse_config

ANSWERS = [
    "floded",
    "flooded",
    "12",
    "200 Ah",
    "200",
    "50",
    "0.5",
    "",
    "28.8",
    "13.5",
    "",
    "14.4",
    "13,5",
    "-4",
    "house",
    "shore",
    "ac-charger",
    "40",
    "roof",
    "solar",
    "",
    "",
    "modbus",
    "modbus-rtu",
    "/dev/serial/by-id/some-shunt",
    "shunt.toml",
    "44.1",
    "-110.6",
]


def answered(answers: list[str], path: Path, monkeypatch: pytest.MonkeyPatch) -> int:
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(answers) + "\n"))
    return main(["init", str(path)])


def test_answers_become_a_commented_configuration(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "coach.toml"
    assert answered(ANSWERS, path, monkeypatch) == 0
    out = capsys.readouterr().out
    for told in ('"flooded"?', "without quotes or unit", "0.5 for 50 %", "12.0 to 17.4 V", "rtu"):
        assert told in out
    text = path.read_text()
    config = parse_config(text, str(path), {"shunt.toml": ""})
    (bank,) = config.site.banks
    assert (bank.chemistry.name, bank.nominal_volts, bank.amp_hours) == ("flooded", 12, 200.0)
    assert (bank.lowest_soc, bank.standing_amps) == (0.5, None)
    assert (bank.set_points.absorption, bank.set_points.float_) == (14.4, 13.5)
    assert [(source.id, source.rated_amps) for source in config.site.sources] == [
        ("shore", 40.0),
        ("roof", None),
    ]
    assert config.devices[0].settings.options == {"port": "/dev/serial/by-id/some-shunt"}
    assert (config.site.latitude, config.site.longitude) == (44.1, -110.6)
    comments = [line for line in text.splitlines() if line.startswith("#")]
    assert len(comments) > 15
    assert "# standing_amps = ..." in text


def test_the_least_that_can_be_answered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "coach.toml"
    assert answered(["", "lfp", "24", "280", *[""] * 9], path, monkeypatch) == 0
    config = parse_config(path.read_text(), "coach.toml")
    assert config.site.banks[0].set_points.absorption is None
    assert config.devices == ()


def test_nothing_is_written_over_nor_half_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "coach.toml"
    assert answered(["flooded", "12"], path, monkeypatch) == 2
    assert not path.exists()
    assert "nothing was written" in capsys.readouterr().err
    path.write_text("mine")
    assert answered(ANSWERS, path, monkeypatch) == 2
    assert path.read_text() == "mine"
