"""The rule by which the service may power off: as polkit would run it, installed and taken back."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from monitor.config import Config, parse_config
from monitor.mishaps import Refusal
from monitor.service import installing, power
from monitor.service.installing import install_steps, uninstall_steps
from monitor.service.power import ACTIONS, caution, rule_path, rule_text
from monitor.service.unit import system_manager, user_manager
from tests.monitor.recordings import BANK_TOML
from tests.monitor.service.test_installing import Fake, do

NODE = shutil.which("node")
DOWN = "[computer]\nwatts = 4.0\nlast_soc = 0.1\nshut_down = true\n"


def config(more: str = DOWN) -> Config:
    return parse_config(f"{BANK_TOML}{more}", "/etc/ampwright/coach.toml")


@pytest.mark.skipif(NODE is None, reason="no engine for the rule's language is installed")
def test_the_rule_allows_one_user_one_thing() -> None:
    """Asked as polkit asks it: a user and an action."""
    asked = [
        *((power.USER, action) for action in ACTIONS),
        (power.USER, "org.freedesktop.login1.reboot"),
        (power.USER, "org.freedesktop.systemd1.manage-units"),
        ("somebody", ACTIONS[0]),
    ]
    script = (
        "var rule; var polkit = {Result: {YES: 'yes'}, addRule: function(f) { rule = f; }};\n"
        f"{rule_text()}\n"
        f"console.log(JSON.stringify({json.dumps(asked)}.map(function(each) "
        "{ return rule({id: each[1]}, {user: each[0]}) || 'not handled'; })));"
    )
    done = subprocess.run([str(NODE), "-e", script], capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) == ["yes"] * len(ACTIONS) + ["not handled"] * 3


@pytest.fixture
def readable(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(installing, "_check_readable", lambda _: None)


@pytest.mark.usefixtures("readable")
def test_it_is_written_where_it_is_needed_and_taken_back(tmp_path: Path) -> None:
    manager, path = system_manager(tmp_path), rule_path(system_manager(tmp_path))
    assert path == tmp_path / "etc/polkit-1/rules.d/60-ampwright.rules"
    do(install_steps(manager, config(""), Fake()))
    assert not path.exists()
    steps = install_steps(manager, config(), Fake())
    assert any("may power this machine off, and nothing else" in step.words for step in steps)
    do(steps)
    assert path.read_text() == rule_text()
    assert path.stat().st_mode & 0o777 == 0o644
    do(install_steps(manager, config(""), Fake()))  # no longer asked for
    assert not path.exists()
    do(install_steps(manager, config(), Fake()))
    do(uninstall_steps(manager, Fake()))
    assert not path.exists()


@pytest.mark.usefixtures("readable")
def test_what_somebody_else_wrote_is_left_alone(tmp_path: Path) -> None:
    manager, path = system_manager(tmp_path), rule_path(system_manager(tmp_path))
    path.parent.mkdir(parents=True)
    path.write_text(rule_text() + "// and more\n")
    with pytest.raises(Refusal, match="not made here, or changed since"):
        install_steps(manager, config(), Fake())
    do(install_steps(manager, config(""), Fake()))
    do(uninstall_steps(manager, Fake()))
    assert path.exists()


def test_a_user_s_own_service_gets_no_rule(tmp_path: Path) -> None:
    steps = install_steps(user_manager(tmp_path), config(), Fake())
    assert not [step for step in steps if "polkit" in step.words]


def test_who_checks_is_told_what_will_not_work(tmp_path: Path) -> None:
    manager = system_manager(tmp_path)
    by_sudo = config(f'{DOWN}shut_down_command = ["sudo", "halt"]\n').computer
    assert caution(config("").computer, manager, root=False) == ""
    assert caution(config().computer, manager, root=True) == ""
    assert "only systemctl poweroff is allowed" in caution(by_sudo, manager, root=False)
    assert "may not shut down without" in caution(config().computer, manager, root=False)
    rule_path(manager).parent.mkdir(parents=True)
    rule_path(manager).write_text(rule_text())
    assert caution(config().computer, manager, root=False) == ""
