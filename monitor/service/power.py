"""Whether the service may shut the machine down, and the rule that allows it that and no more.

The service runs as a user of its own without privileges, so `systemctl poweroff` asks the login
manager, which asks polkit (polkit(8)): nobody sits at a seat, so without a rule the answer is no.
The rule names one user and powering off, also while others are logged in or a program has asked for
time: the bank does not wait. It says nothing of restarting, sleeping or anything else. Rules in
this form want polkit 0.106 or newer (Debian 12, from memory; older ones overlook the file).
"""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Final

from monitor.config_computer import Computer
from monitor.service.unit import Manager

#: With DynamicUser= and no User= a service's user is called as its unit (systemd.exec(5)).
USER: Final = "ampwright"
#: What the login manager is asked with `systemctl poweroff` (org.freedesktop.login1(5)).
ACTIONS: Final = (
    "org.freedesktop.login1.power-off",
    "org.freedesktop.login1.power-off-multiple-sessions",
    "org.freedesktop.login1.power-off-ignore-inhibit",
)
#: The command that needs no more than the rule.
BY_RULE: Final = ("systemctl", "poweroff")

_MARK: Final = "// Made by ampwright service install: "


def rule_path(manager: Manager) -> Path:
    """Where the rule of the whole machine's service stands."""
    return manager.folder.parents[1] / "polkit-1/rules.d/60-ampwright.rules"


def rule_text() -> str:
    """The whole file, marked as made here."""
    actions = ",\n        ".join(f'"{action}"' for action in ACTIONS)
    body = (
        "polkit.addRule(function(action, subject) {\n"
        f"    var actions = [\n        {actions}\n    ];\n"
        f'    if (subject.user == "{USER}" && actions.indexOf(action.id) >= 0) {{\n'
        "        return polkit.Result.YES;\n"
        "    }\n"
        "});\n"
    )
    return f"{_MARK}{_digest(body)}\n{body}"


def made_here(text: str) -> bool:
    """Whether a rule file was made here and is as it was made."""
    first, _, rest = text.partition("\n")
    return first == f"{_MARK}{_digest(rest)}"


def wanted(manager: Manager, computer: Computer) -> bool:
    """Whether the service needs the rule: it is to shut down, and in the way the rule allows."""
    return manager.system and computer.shut_down and computer.shut_down_command == BY_RULE


def caution(computer: Computer, manager: Manager, *, root: bool) -> str:
    """One line where shutting down will not work from a service; empty where it should."""
    if not computer.shut_down or root:
        return ""
    key, path = "[computer] shut_down_command", rule_path(manager)
    if computer.shut_down_command != BY_RULE:
        return (
            f"{key}: an installed service has no privileges (no sudo either); only "
            f"{' '.join(BY_RULE)} is allowed to it, by: ampwright service install"
        )
    try:
        there = path.exists()
    except OSError:
        return ""  # a folder that only the system reads: nobody here can tell
    if there:
        return ""
    return (
        f"{key}: a service may not shut down without {path}; write it with: "
        "sudo ampwright service install"
    )


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]
