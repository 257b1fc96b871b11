"""An RV-C bus from the command line: the check tells who speaks, and asks for the sign."""

from __future__ import annotations

import io
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import can
import pytest

from monitor.cli import main
from monitor.config import parse_config
from tests.adapters.rvc.traffic import COACH
from tests.monitor.recordings import BANK_TOML

BUS = ("[devices.meter]", 'adapter = "rvc"', 'interface = "virtual"', "timeout_seconds = 2")


@contextmanager
def talking(channel: str) -> Iterator[None]:
    """A bus on which the invented coach speaks every twentieth of a second."""
    ended = threading.Event()

    def speak() -> None:
        with can.Bus(channel=channel, interface="virtual", ignore_config=True) as node:
            while not ended.wait(0.05):
                for arbitration_id, data in COACH:
                    node.send(can.Message(arbitration_id=arbitration_id, data=data))

    speaker = threading.Thread(target=speak)
    speaker.start()
    try:
        yield
    finally:
        ended.set()
        speaker.join()


def config(tmp_path: Path, channel: str, *more: str) -> str:
    path = tmp_path / "coach.toml"
    path.write_text("\n".join((BANK_TOML, *BUS, f'channel = "{channel}"', *more)) + "\n")
    return str(path)


def test_the_check_tells_what_is_heard_and_asks_for_the_sign(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with talking("check-sign"):
        assert main(["check", "--config", config(tmp_path, "check-sign", "dc_instance = 1")]) == 2
        out, err = capsys.readouterr()
        assert "meter: RV-C, experimental: not checked against the published specification" in out
        assert "DC source 1, address 70, DC_SOURCE_STATUS_1, priority 120: volts 13.4 V" in out
        assert "amps 25.3 A" in out
        assert "bank current" not in out
        (line,) = err.splitlines()
        assert 'add positive = "charging" or "discharging"' in line
        told = config(tmp_path, "check-sign", "dc_instance = 1", 'positive = "discharging"')
        assert main(["check", "--config", told]) == 0
        out, err = capsys.readouterr()
        assert "house bank current -25.3 A" in out
        assert err == ""


def test_the_check_names_the_instances_there_are(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    options = ("dc_instance = 2", 'positive = "charging"')
    told = config(tmp_path, "check-other", *options)
    path = Path(told)
    path.write_text(path.read_text().replace("timeout_seconds = 2", "timeout_seconds = 0.3"))
    with talking("check-other"):
        assert main(["check", "--config", told]) == 2
    out, err = capsys.readouterr()
    (line,) = err.splitlines()
    assert "expected figures of DC source 2 within 0.3 s; heard DC source 1" in line
    assert "DC source 1, address 70, DC_SOURCE_STATUS_5, priority 120, not asked for" in out


@pytest.mark.parametrize("answers", [("can1", "charging"), ("", "")])
def test_init_asks_for_the_interface_and_the_sign(
    answers: tuple[str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "coach.toml"
    bank = ["lfp", "12", "280", "", "", "", "", "", ""]
    words = "\n".join([*bank, "rvc", *answers, *[""] * 4]) + "\n"
    monkeypatch.setattr("sys.stdin", io.StringIO(words))
    assert main(["init", str(path)]) == 0
    (shunt,) = parse_config(path.read_text(), str(path)).devices
    assert shunt.settings.options["channel"] == (answers[0] or "can0")
    assert shunt.settings.options["dc_instance"] == 1
    assert shunt.settings.options.get("positive", "") == answers[1]
