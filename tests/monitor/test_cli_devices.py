"""`ampwright devices`: what is plugged in, SunSpec at a host, how well each link is heard."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from adapters.reading import Channel, LinkState, Quantity, Reading
from monitor import plugged_in
from monitor.cli import main
from monitor.config import load_config
from monitor.engine.engine import Engine
from monitor.kept_state import KeptState, save_state
from monitor.plugged_in import Port, can_interfaces, lasting_names
from tests.adapters.scripted_device import Reply, Request
from tests.adapters.sunspec.devices import serving
from tests.adapters.sunspec.images import BATTERY, COMMON, device_image, model_words
from tests.monitor.recordings import BANK_TOML
from tests.monitor.served import served

IMAGE = device_image(model_words(1, COMMON), model_words(802, BATTERY))

NAME = "/dev/serial/by-id/usb-shunt-7"


@pytest.fixture(autouse=True)
def nothing_of_this_machine(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """One port, and no configuration but the one that is named."""
    ports = (Port("/dev/ttyUSB0", "a shunt", (NAME,)),)
    monkeypatch.setattr(plugged_in, "serial_ports", lambda: ports)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "none"))


def coach(folder: Path, port: int = 1) -> Path:
    path = folder / "coach.toml"
    path.write_text(
        f'{BANK_TOML}[devices.shunt]\nadapter = "sunspec"\nhost = "127.0.0.1"\nport = {port}\n'
        'positive = "charging"\ntimeout_seconds = 0.5\nperiod_seconds = 0.05\n'
        '[devices.gone]\nadapter = "sunspec"\nhost = "127.0.0.1"\nport = 1\n'
    )
    return path


def told(capsys: pytest.CaptureFixture[str]) -> Any:
    out, err = capsys.readouterr()
    assert err == ""
    return json.loads(out)


def test_what_is_plugged_in(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["devices"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert "  /dev/ttyUSB0, a shunt\n" in out
    assert f"plugged in again: {NAME}\n" in out
    assert "sunspec" in out
    assert "write one with: ampwright init" in out
    assert main(["devices", "--json"]) == 0
    found = told(capsys)
    assert found["ports"] == [{"path": "/dev/ttyUSB0", "description": "a shunt", "lasting": [NAME]}]
    assert {"modbus-tcp", "sunspec"} <= set(found["adapters"])
    assert found["links"] == []


def test_sunspec_at_a_host(capsys: pytest.CaptureFixture[str]) -> None:
    with served(serving(IMAGE)) as port:
        words = ["devices", "--host", "127.0.0.1", "--port", str(port)]
        assert main(words) == 0
        out = capsys.readouterr().out
        assert f"SunSpec at 127.0.0.1:{port}:\n  SunSpec map at register 40000: Pinewater" in out
        assert "  model 802 at 40070, 62 registers: battery" in out
        assert main([*words, "--json"]) == 0
        assert told(capsys)["sunspec"]["about"][0].startswith("SunSpec map at register 40000")
    assert main(["devices", "--host", "127.0.0.1", "--port", "1", "--json"]) == 2
    found = told(capsys)["sunspec"]
    assert "refuses connections to port 1" in found["error"]
    assert found["about"] == []


def test_each_link_is_polled(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One poll in four without an answer: counted, with its reason; a dead device is told too."""
    healthy = serving(IMAGE)
    polls: list[int] = []

    def script(request: Request) -> Reply:
        if request.address == 40_070 and request.count > 2:
            polls.append(request.number)
            if len(polls) == 4:  # the first is the look at the start
                return Reply(exception=6)
        reply = healthy(request)
        assert isinstance(reply, Reply)
        return reply

    with served(script) as port:
        path = str(coach(tmp_path, port))
        assert main(["devices", "--config", path, "--polls", "4", "--json"]) == 2
    shunt, gone = (link["tried"] for link in told(capsys)["links"])
    assert (shunt["polls"], shunt["lost"]) == (4, 1)
    assert "busy (exception 6)" in shunt["error"]
    assert 0.0 < shunt["median_seconds"] <= shunt["worst_seconds"] < 0.5
    assert (gone["polls"], gone["median_seconds"]) == (0, None)
    assert "refuses connections" in gone["error"]


def test_polls_in_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with served(serving(IMAGE)) as port:
        assert main(["devices", "--config", str(coach(tmp_path, port)), "--polls", "2"]) == 2
    out = capsys.readouterr().out
    assert "  shunt (sunspec), every 0.05 s\n    2 polls, 0 lost; an answer takes " in out
    assert "last error: 127.0.0.1 refuses connections to port 1" in out


def kept(path: Path, folder: Path) -> str:
    """A state in which the shunt spoke for a minute and the other device never did."""
    engine = Engine(load_config(path).site)
    volts = Channel("house", Quantity.BANK_VOLTS)
    for second in range(60):
        engine.step(Reading(float(second), "shunt", ((volts, 12.7),)))
    engine.step(LinkState(60.0, "gone", up=False, reason="127.0.0.1 refuses connections"))
    state = folder / "house.state"
    save_state(state, KeptState(engine.state(), 60.0, 0.0))
    return str(state)


def test_what_a_kept_state_knows(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = coach(tmp_path)
    words = ["devices", "--config", str(path), "--state", kept(path, tmp_path)]
    assert main(words) == 0
    out = capsys.readouterr().out
    assert f"links of {path}, as kept " in out
    assert "  shunt (sunspec), every 0.05 s\n    answered, last just now, spoke every 1.0 s" in out
    # It speaks once where 20 polls were asked for, and has done so for one minute of ten.
    assert "spoke every 1.0 s, 9 % of its polls lost" in out
    assert "silent: 127.0.0.1 refuses connections" in out
    assert main([*words, "--json"]) == 0
    found = told(capsys)
    shunt, gone = (link["kept"] for link in found["links"])
    assert (shunt["up"], gone["up"]) == (True, False)
    assert shunt["period_seconds"] == pytest.approx(1.0, abs=0.05)
    assert found["state_age_seconds"] > 1e9


WRONG = [
    (["--state", "nothing.state"], "nothing.state: expected a state file, found none"),
    (["--state", "coach.toml"], "coach.toml: expected a state file, found something else"),
    (["--port", "502"], "--port and --device-id go with --host"),
    (["--config", "nowhere.toml"], "nowhere.toml: expected a file, found none"),
]


@pytest.mark.parametrize(("words", "says"), WRONG)
def test_a_mistake_is_one_line(
    words: list[str], says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    coach(tmp_path)
    given = [] if "--config" in words or "--port" in words else ["--config", "coach.toml"]
    assert main(["devices", *given, *words]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert says in err


def test_polling_and_a_state_need_a_configuration(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["devices", "--polls", "3"]) == 2
    assert "ampwright init" in capsys.readouterr().err
    with pytest.raises(SystemExit):
        main(["devices", "--polls", "0"])
    assert "expected 1 to 1000" in capsys.readouterr().err


def test_lasting_names_are_found_by_what_they_point_to(tmp_path: Path) -> None:
    for folder in ("dev/serial/by-id", "dev/serial/by-path"):
        (tmp_path / folder).mkdir(parents=True)
    for name in ("ttyUSB0", "ttyUSB1"):
        (tmp_path / "dev" / name).touch()
    (tmp_path / "dev/serial/by-id/usb-shunt").symlink_to("../../ttyUSB1")
    (tmp_path / "dev/serial/by-path/pci-0").symlink_to("../../ttyUSB1")
    (tmp_path / "dev/serial/by-id/usb-other").symlink_to("../../ttyUSB0")
    assert lasting_names("/dev/ttyUSB1", tmp_path) == (
        "/dev/serial/by-id/usb-shunt",
        "/dev/serial/by-path/pci-0",
    )
    assert lasting_names("/dev/ttyS9", tmp_path) == ()
    assert lasting_names("/dev/ttyS9", tmp_path / "nothing") == ()


def test_can_interfaces_are_told_by_their_kind(tmp_path: Path) -> None:
    for name, kind in (("can0", "280\n"), ("eth0", "1\n"), ("vcan1", "280\n")):
        (tmp_path / "sys/class/net" / name).mkdir(parents=True)
        (tmp_path / "sys/class/net" / name / "type").write_text(kind)
    assert can_interfaces(tmp_path) == ("can0", "vcan1")
    assert can_interfaces(tmp_path / "nothing") == ()
