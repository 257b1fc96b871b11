"""What a configuration wants of this machine, told by `check` before it is needed."""

from __future__ import annotations

import importlib.metadata
import shlex
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from adapters.description import shipped_text
from monitor.cli import main
from monitor.config import parse_config
from monitor.config_machine import Tried, overlaps, tried
from tests.monitor.recordings import BANK_TOML

SUMMER = 1_781_121_600.0  # 2026-06-10


def found(tmp_path: Path, more: str, wall: float = SUMMER) -> list[Tried]:
    return list(tried(parse_config(BANK_TOML + more, str(tmp_path / "coach.toml")), wall))


def in_zone(monkeypatch: pytest.MonkeyPatch, zone: str) -> None:
    monkeypatch.setenv("TZ", zone)
    time.tzset()


@pytest.fixture(autouse=True)
def _utc(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    in_zone(monkeypatch, "UTC")
    yield
    monkeypatch.undo()
    time.tzset()


def test_nothing_is_told_of_what_is_well(tmp_path: Path) -> None:
    assert found(tmp_path, "") == []
    more = f'[history]\ndirectory = "record"\n[notify]\ncommand = ["{sys.executable}"]\n'
    assert found(tmp_path, more) == []
    assert list(tmp_path.iterdir()) == [], "nothing stays behind of what was tried"


@pytest.mark.parametrize(
    ("directory", "says"),
    [
        ("a-file", "expected a directory, found the file"),
        ("a-file/below", "expected a directory, found the file"),
        ("/proc/ampwright", "expected a place that can be written to, found /proc"),
    ],
)
def test_a_record_that_cannot_be_written(tmp_path: Path, directory: str, says: str) -> None:
    (tmp_path / "a-file").touch()
    (one,) = found(tmp_path, f'[history]\ndirectory = "{directory}"\n')
    assert one.fails
    assert ": history.directory: " in one.words
    assert says in one.words


def test_commands_that_are_not_there(tmp_path: Path) -> None:
    plain = tmp_path / "tell"
    plain.write_text("not executable")
    more = (
        f'[notify]\ncommand = ["{plain}"]\n'
        '[computer]\nlast_soc = 0.1\nshut_down = true\nshut_down_command = ["no-such-program"]\n'
    )
    notify, computer = found(tmp_path, more)
    assert notify.fails
    assert "notify.command: expected a program that can be run, found none called" in notify.words
    assert "computer.shut_down_command: expected a program" in computer.words
    assert found(tmp_path, more.replace("shut_down = true", "shut_down = false"))[1:] == []


def test_a_library_or_a_password_that_is_missing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in [each for each in sys.modules if each.split(".")[0] == "aiomqtt"]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "aiomqtt", None)
    library, password = found(tmp_path, '[mqtt]\nhost = "broker"\npassword_file = "none"\n')
    assert f"{shlex.quote(sys.executable)} -m pip install aiomqtt==" in library.words
    assert "the password cannot be read" in password.words
    assert importlib.metadata.version("aiomqtt")


OVERLAP = """
kind = "modbus"
title = "Invented"
[[registers]]
quantity = "bank_volts"
address = 10
type = "uint32"
unit = "mV"
[[registers]]
quantity = "bank_celsius"
address = 11
type = "int16"
unit = "°C"
"""


def test_registers_that_overlap_are_told_and_fail_nothing() -> None:
    (one,) = overlaps(OVERLAP, "shunt.toml")
    assert not one.fails
    assert one.words == (
        "shunt.toml: bank_volts (10 to 11) and bank_celsius (11) share registers of the table "
        "holding; one of the two addresses or types is probably wrong"
    )
    assert list(overlaps(OVERLAP.replace("address = 11", "address = 12"), "shunt.toml")) == []
    assert list(overlaps(shipped_text("modbus-template.toml"), "modbus-template.toml")) == []


def test_parts_of_one_number_overlap_by_intent() -> None:
    bits = """
kind = "modbus"
title = "Invented"
[[registers]]
quantity = "charge_permitted"
address = 10
type = "uint16"
bits = [0, 1]
[[registers]]
quantity = "discharge_permitted"
address = 10
type = "uint16"
bits = [1, 1]
"""
    assert list(overlaps(bits, "shunt.toml")) == []


def test_zones_are_told_where_they_differ(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    more = '[history]\ndirectory = "r"\nzone_hours = -7\n'
    (one,) = found(tmp_path, more)
    assert one == Tried(
        "clock times: screens in UTC (machine); record in UTC-7 (zone_hours)", fails=False
    )
    in_zone(monkeypatch, "America/Phoenix")
    assert found(tmp_path, more) == []
    assert found(tmp_path, "") == []


def test_check_tells_it_and_says_by_its_status(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "coach.toml"
    path.write_text(BANK_TOML + '[history]\ndirectory = "/proc/x"\n')
    assert main(["check", "--config", str(path)]) == 2
    assert "history.directory" in capsys.readouterr().err
    path.write_text(BANK_TOML + '[history]\ndirectory = "r"\nzone_hours = 3\n')
    assert main(["check", "--config", str(path)]) == 0
    assert "screens in UTC (machine); record in UTC+3 (zone_hours)" in capsys.readouterr().err
