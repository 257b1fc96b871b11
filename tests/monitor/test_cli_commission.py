"""`ampwright commission` as its users meet it: lines in, lines out, files that go wrong."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor import cli
from monitor.mishaps import Refusal
from monitor.service.caller import call
from replay.coach.recording import write_capture
from replay.coach.stories import STORIES
from tests.wire.waiting import SEEN_SECONDS, START_SECONDS, until

CONFIG = """\
[banks.house]
chemistry = "agm"
nominal_volts = 12
amp_hours = 100
[sources.charger]
bank = "house"
kind = "ac-charger"
rated_amps = 20
[devices.shunt]
adapter = "replay"
capture = "bench.capture"
device = "shunt"
rate = 20
bank = "house"
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_capture(STORIES["bench"].with_hours(0.4), tmp_path / "bench.capture")
    (tmp_path / "ampwright.toml").write_text(CONFIG, encoding="utf-8")
    return tmp_path


def _home(folder: Path) -> dict[str, str]:
    return {
        **os.environ,
        "HOME": str(folder),
        "XDG_STATE_HOME": str(folder / "state"),
        "XDG_RUNTIME_DIR": str(folder / "run"),
    }


class Talk:
    """The program without a screen, answered line by line."""

    def __init__(self, folder: Path, *options: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "monitor.cli", "commission", "--headless", *options],
            cwd=folder,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env=_home(folder),
        )
        self.lines: list[str] = []
        self._reading = threading.Thread(target=self._read, daemon=True)
        self._reading.start()

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self.lines.append(line.rstrip())

    def await_(self, words: str) -> None:
        def said() -> bool:
            return any(words in line for line in self.lines)

        until(said, START_SECONDS, f"the words {words!r}", lambda: "\n".join(self.lines))

    def type(self, line: str) -> None:
        assert self._process.stdin is not None
        self._process.stdin.write(line + "\n")
        self._process.stdin.flush()

    def end(self) -> int:
        status = self._process.wait(20.0)
        self._reading.join(5.0)
        return status

    def kill(self) -> None:
        self._process.kill()
        self._process.wait(20.0)
        self._reading.join(5.0)


def _kept(folder: Path) -> dict[str, dict[str, object]]:
    document = json.loads((folder / "commissioning-house.json").read_text(encoding="utf-8"))
    return {each["id"]: each for each in document["outcomes"]}


def test_a_reading_is_asked_for_taken_and_recorded_and_survives_a_kill(folder: Path) -> None:
    talk = Talk(folder, "--capture", "first.capture")
    talk.await_("begin, or: skip WHY, later")
    talk.type("go voltmeter")
    talk.await_("Volts at the posts by the meter")
    talk.type("126")
    talk.await_("meter: expected 2 to 80 V, found '126'")
    talk.type("12.3")
    talk.await_("voltmeter")
    judged = "a voltmeter that is judged"
    until(lambda: _kept(folder)["voltmeter"]["verdict"] != "not done", SEEN_SECONDS, judged)
    talk.kill()
    verdict = _kept(folder)["voltmeter"]["verdict"]
    assert "commission/voltmeter" in (folder / "first.capture").read_text(encoding="utf-8")
    again = Talk(folder)
    again.await_("begin, or: skip WHY, later")
    again.type("skip nothing here to read")
    again.await_("not done  identity: nothing here to read")
    again.type("quit")
    again.end()
    assert _kept(folder)["voltmeter"]["verdict"] == verdict
    assert _kept(folder)["identity"]["why"] == "nothing here to read"


class Service:
    """`ampwright serve` on the same devices."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.start()

    def start(self) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "monitor.cli", "serve"],
            cwd=self.folder,
            stderr=subprocess.DEVNULL,
            env=_home(self.folder),
        )
        self.socket = self.folder / "run" / "ampwright" / "socket"
        until(self._answers, START_SECONDS, "the service answers")

    def _answers(self) -> bool:
        try:
            return call(self.socket).hello.pid == self.process.pid
        except Refusal:
            return False

    def kill(self) -> None:
        self.process.kill()
        self.process.wait(20.0)


@pytest.fixture
def service(folder: Path) -> Iterator[Service]:
    (folder / "run").mkdir()
    with (folder / "ampwright.toml").open("a") as config:
        config.write('[history]\ndirectory = "record"\n')
    service = Service(folder)
    try:
        yield service
    finally:
        service.kill()


def test_beside_a_service_what_is_said_goes_into_its_record(folder: Path, service: Service) -> None:
    talk = Talk(folder)
    talk.await_("begin, or: skip WHY, later")
    talk.type("go voltmeter")
    talk.await_("Volts at the posts by the meter")
    talk.type("12.3")
    judged = "a voltmeter that is judged"
    until(lambda: _kept(folder)["voltmeter"]["verdict"] != "not done", SEEN_SECONDS, judged)
    verdict = _kept(folder)["voltmeter"]["verdict"]
    service.kill()
    talk.type("skip nobody hears this")
    talk.await_("not taken, say it again later: Nothing known for")
    service.start()

    def heard_again() -> bool:
        talk.type("skip nothing here to read")
        return _kept(folder)["identity"].get("why") == "nothing here to read"

    until(heard_again, START_SECONDS, "the same talk goes on with the service begun anew")
    talk.type("quit")
    talk.end()
    assert _kept(folder)["voltmeter"]["verdict"] == verdict
    recorded = b"".join(path.read_bytes() for path in (folder / "record").rglob("*.capture"))
    assert b"commission/voltmeter" in recorded
    assert b"nobody hears this" not in recorded


def test_a_service_is_refused_while_a_commissioning_reads_the_devices(folder: Path) -> None:
    (folder / "run").mkdir()
    talk = Talk(folder)
    talk.await_("begin, or: skip WHY, later")
    words = [sys.executable, "-m", "monitor.cli", "serve"]
    refused = subprocess.run(
        words, cwd=folder, env=_home(folder), capture_output=True, text=True, check=False
    )
    assert refused.returncode == 2
    assert "(commission)" in refused.stderr
    assert refused.stderr.count("\n") == 1
    talk.kill()


def test_what_cannot_be_taken_is_refused_in_one_line(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(folder)
    Path("bad.json").write_text("junk")
    refused = {
        ("--record", "bad.json"): "bad.json: expected a commissioning record",
        ("--installation", "none.toml", "--list"): "--template > none.toml",
        ("--bank", "cellar", "--list"): "--bank: expected one of house",
        ("--play", "none.capture"): "none.capture: no such file",
    }
    for options, words in refused.items():
        assert cli.main(["commission", *options]) == 2
        said = capsys.readouterr()
        assert words in said.err
        assert said.err.count("\n") == 1
        assert said.out == ""


def test_the_list_has_limits_and_sources(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["commission", "--list", "--config", str(folder / "ampwright.toml")]) == 0
    out = capsys.readouterr().out
    assert "voltmeter: The tool's volts against a reference meter" in out
    assert "(our choice" in out
    assert "not applicable: one bank only" in out
