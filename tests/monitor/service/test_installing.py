"""The unit files as systemd sees them, and an installer that asks and writes over nothing."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path

import pytest

from monitor.commands import service
from monitor.config import Config, parse_config
from monitor.mishaps import Refusal
from monitor.service import installing
from monitor.service.installing import install_steps, state_of, uninstall_steps
from monitor.service.unit import Manager, ours, quoted, system_manager, unit_text, user_manager
from tests.monitor.recordings import BANK_TOML

needs_systemd = pytest.mark.skipif(
    shutil.which("systemd-analyze") is None, reason="systemd-analyze is not installed"
)
MOST_EXPOSED = 2.0
TRUE = (shutil.which("true") or "/bin/true",)


def config(more: str = "", name: str = "/etc/ampwright/my coach.toml") -> Config:
    return parse_config(f"{BANK_TOML}{more}", name)


def written(folder: Path, manager: Manager, made: Config, program: tuple[str, ...] = TRUE) -> Path:
    path = folder / "ampwright.service"
    path.write_text(unit_text(manager, made, program), encoding="utf-8")
    return path


@needs_systemd
@pytest.mark.parametrize("more", ["", '[notify]\ncommand = ["/bin/true"]\n'], ids=["lan", "any"])
def test_the_system_unit_exposes_little(tmp_path: Path, more: str) -> None:
    path = written(tmp_path, system_manager(), config(more))
    done = subprocess.run(
        ["systemd-analyze", "security", "--offline=true", path], capture_output=True, text=True
    )
    found = re.search(r"Overall exposure level for \S+: ([\d.]+)", done.stdout)
    assert found, done.stdout + done.stderr
    assert float(found[1]) <= MOST_EXPOSED


@needs_systemd
@pytest.mark.parametrize("whose", ["system", "user"])
def test_systemd_finds_no_fault_in_the_units(tmp_path: Path, whose: str) -> None:
    manager = system_manager() if whose == "system" else user_manager(tmp_path)
    path = written(tmp_path, manager, config())
    done = subprocess.run(["systemd-analyze", "verify", path], capture_output=True, text=True)
    assert (done.returncode, done.stdout + done.stderr) == (0, "")


@needs_systemd
def test_systemd_finds_the_fault_that_is_there(tmp_path: Path) -> None:
    """The check above can fail."""
    path = written(tmp_path, system_manager(), config(), ("/none/such program",))
    done = subprocess.run(["systemd-analyze", "verify", path], capture_output=True, text=True)
    assert "/none/such program" in done.stderr


def test_nothing_is_left_open_in_a_unit(tmp_path: Path) -> None:
    for manager in (system_manager(), user_manager(tmp_path)):
        text = unit_text(manager, config(), ("/opt/a b/ampwright",))
        assert not re.search(r"@[A-Z]+@", text)
        start = 'ExecStart="/opt/a b/ampwright" serve --config "/etc/ampwright/my coach.toml"'
        assert start in text.splitlines()
        assert "WatchdogSec=" in text
        assert "Type=notify" in text


@pytest.mark.parametrize(
    ("word", "wanted"),
    [
        ("/usr/bin/x", "/usr/bin/x"),
        ("/a b", '"/a b"'),
        ("/50%", '"/50%%"'),
        ("/$HOME", '"/$$HOME"'),
        ('/a"b\\', '"/a\\"b\\\\"'),
    ],
)
def test_words_are_quoted_as_unit_files_have_it(word: str, wanted: str) -> None:
    assert quoted(word) == wanted


class Fake:
    """A service manager that notes what it is told."""

    def __init__(self, status: int = 0) -> None:
        self.told: list[str] = []
        self.status = status

    def __call__(self, words: Sequence[str]) -> tuple[int, str]:
        self.told.append(" ".join(words))
        return self.status, "enabled"


def do(steps: Sequence[installing.Step]) -> None:
    for step in steps:
        step.do()


def test_installing_shows_every_step_and_uninstalling_takes_them_back(tmp_path: Path) -> None:
    manager, run = user_manager(tmp_path), Fake()
    steps = install_steps(manager, config(), run)
    assert not run.told, "nothing is done by asking"
    assert not manager.path.exists()
    assert [step.words for step in steps] == [
        f"write {manager.path}",
        "systemctl --user daemon-reload",
        "systemctl --user enable ampwright.service",
        "systemctl --user restart ampwright.service",
    ]
    do(steps)
    assert ours(manager.path.read_text())
    assert manager.path.stat().st_mode & 0o777 == 0o644
    assert state_of(manager, run)[0].endswith("made here")
    do(install_steps(manager, config(), run))  # once more, over its own
    do(uninstall_steps(manager, run))
    assert not manager.path.exists()
    with pytest.raises(Refusal, match="not installed"):
        uninstall_steps(manager, run)


@pytest.mark.parametrize("how", ["another's", "changed by hand", "a link"])
def test_a_foreign_file_is_never_touched(tmp_path: Path, how: str) -> None:
    manager, run = user_manager(tmp_path), Fake()
    manager.folder.mkdir(parents=True)
    text = unit_text(manager, config(), TRUE)
    match how:
        case "another's":
            manager.path.write_text("[Unit]\n")
        case "changed by hand":
            manager.path.write_text(text.replace("RestartSec=5", "RestartSec=50"))
        case _:
            (tmp_path / "target").write_text(text)
            manager.path.symlink_to(tmp_path / "target")
    before = manager.path.read_text()
    for steps in (
        lambda: install_steps(manager, config(), run),
        lambda: uninstall_steps(manager, run),
    ):
        with pytest.raises(Refusal, match="left alone"):
            steps()
    assert manager.path.read_text() == before
    assert not run.told


def test_a_step_that_fails_is_one_line_and_ends_it(tmp_path: Path) -> None:
    run = Fake(status=1)
    with pytest.raises(Refusal, match="daemon-reload: enabled; see: journalctl"):
        do(install_steps(user_manager(tmp_path), config(), run))
    assert len(run.told) == 1


def test_what_the_service_could_not_read_or_write_is_refused_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o700)
    (closed / "coach.toml").write_text(BANK_TOML)
    monkeypatch.setattr(installing, "program", lambda: TRUE)
    manager = system_manager(tmp_path)
    with pytest.raises(Refusal, match="own user cannot read it"):
        install_steps(manager, config(name=str(closed / "coach.toml")), Fake())
    monkeypatch.setattr(installing, "_closed", lambda _: False)
    with pytest.raises(Refusal, match="expected one below /var/lib/ampwright"):
        install_steps(manager, config('[history]\ndirectory = "/srv/record"\n'), Fake())
    good = config('[history]\ndirectory = "/var/lib/ampwright/record"\n')
    assert install_steps(manager, good, Fake())


def test_the_command_asks_first_and_no_is_no(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from monitor.cli import main

    path = tmp_path / "coach.toml"
    path.write_text(BANK_TOML + '[devices.a]\nadapter = "replay"\ncapture = "a.capture"\n')
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "home"))
    run = Fake()
    monkeypatch.setattr(installing, "run_command", run)
    answers = iter(["n", "yes"])
    monkeypatch.setattr("builtins.input", lambda _: next(answers))
    words = ["service", "install", "--user", "--config", str(path)]
    assert main(words) == 1
    assert "Nothing was done" in capsys.readouterr().out
    assert not run.told
    assert main(words) == 0
    assert "ampwright watch" in capsys.readouterr().out
    assert main(["service", "uninstall", "--user", "--yes"]) == 0
    assert "still there" in capsys.readouterr().out
    assert main(["service", "status", "--user"]) == service.NOT_RUNNING
