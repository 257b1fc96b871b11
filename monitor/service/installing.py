"""Installing the service with the service manager, in steps that are shown before they are done.

Nothing is done that was not shown, nothing is written over that was not made here, and what was
done when a step fails is said.
"""

from __future__ import annotations

import os
import stat
import subprocess
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from monitor.config import Config
from monitor.mishaps import Refusal, system_error
from monitor.service.power import made_here, rule_path, rule_text, wanted
from monitor.service.unit import STATE_FOLDER, Manager, ours, program, unit_text

#: Runs a command: its exit status and what it said.
Run = Callable[[Sequence[str]], tuple[int, str]]

#: Starting waits until the service is ready; its own limit is 90 s (systemd's default).
_PATIENCE_SECONDS: Final = 120.0


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do, in words, and how."""

    words: str
    do: Callable[[], None]


def run_command(words: Sequence[str]) -> tuple[int, str]:
    try:
        done = subprocess.run(
            words, capture_output=True, text=True, timeout=_PATIENCE_SECONDS, check=False
        )
    except FileNotFoundError:
        raise Refusal(
            f"{words[0]}: not found; this needs systemd. Elsewhere let whatever starts programs "
            "there run: ampwright serve"
        ) from None
    except subprocess.TimeoutExpired:
        raise Refusal(f"{' '.join(words)}: not done within {_PATIENCE_SECONDS:g} s") from None
    return done.returncode, (done.stdout + done.stderr).strip()


def install_steps(manager: Manager, config: Config, run: Run) -> list[Step]:
    """What installing does; `Refusal` where it cannot work, before anything is done."""
    _check_foreign(manager)
    words = program()
    if manager.system:
        _check_readable([*words, config.name, *_descriptions(config)])
        _check_record(config)
    text = unit_text(manager, config, words)
    return [
        Step(f"write {manager.path}", lambda: _write(manager.path, text)),
        *_power_steps(manager, config),
        _command(run, *manager.control, "daemon-reload"),
        _command(run, *manager.control, "enable", manager.path.name),
        _command(run, *manager.control, "restart", manager.path.name),
    ]


def uninstall_steps(manager: Manager, run: Run) -> list[Step]:
    """What uninstalling does. What was recorded and learned stays."""
    if not manager.path.exists():
        raise Refusal(f"{manager.path}: not installed; nothing to do")
    _check_foreign(manager)
    return [
        _command(run, *manager.control, "disable", "--now", manager.path.name),
        Step(f"remove {manager.path}", manager.path.unlink),
        *_no_power_steps(manager),
        _command(run, *manager.control, "daemon-reload"),
    ]


def _power_steps(manager: Manager, config: Config) -> list[Step]:
    """Allow the service's user to power off where that is asked for; else take that back."""
    if not wanted(manager, config.computer):
        return _no_power_steps(manager)
    path = rule_path(manager)
    if path.exists() and not made_here(path.read_text(errors="replace")):
        raise Refusal(f"{path}: not made here, or changed since; move it away first")
    words = f"write {path}: the service's user may power this machine off, and nothing else"
    return [Step(words, lambda: _write(path, rule_text()))]


def _no_power_steps(manager: Manager) -> list[Step]:
    path = rule_path(manager)
    if not manager.system or not path.exists() or not made_here(path.read_text(errors="replace")):
        return []
    return [Step(f"remove {path}", path.unlink)]


def state_of(manager: Manager, run: Run) -> list[str]:
    """Lines that tell what is installed and whether it runs."""
    if not manager.path.exists():
        return [f"{manager.path}: not installed"]
    made = "made here" if ours(manager.path.read_text(errors="replace")) else "not made here"
    _, active = run([*manager.control, "is-active", manager.path.name])
    _, enabled = run([*manager.control, "is-enabled", manager.path.name])
    return [f"{manager.path}: {made}", f"{active or 'unknown'}; at start: {enabled or 'unknown'}"]


def _command(run: Run, *words: str) -> Step:
    def do() -> None:
        status, said = run(words)
        if status:
            told = " ".join(said.split()) or f"status {status}"
            raise Refusal(f"{' '.join(words)}: {told}; see: journalctl -u ampwright")

    return Step(" ".join(words), do)


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.new")
    try:
        beside.write_text(text, encoding="utf-8")
        beside.chmod(0o644)
        beside.replace(path)
    except OSError as error:
        raise Refusal(system_error(error)) from None


def _check_foreign(manager: Manager) -> None:
    path = manager.path
    if path.is_symlink() or (path.exists() and not ours(path.read_text(errors="replace"))):
        raise Refusal(
            f"{path}: not made here, or changed since; it is left alone. Move it away first "
            "(changes belong into a drop-in: systemctl edit ampwright)"
        )


def _descriptions(config: Config) -> list[str]:
    folder = Path(config.name).parent
    return [str(folder / name) for name in config.descriptions if (folder / name).exists()]


def _check_readable(paths: Iterable[str]) -> None:
    """The service's own user must reach the program and what it reads."""
    for name in paths:
        path = Path(name).absolute()
        for each in (path, path.resolve()):
            hidden = each.is_relative_to("/home") or each.is_relative_to("/root")
            if hidden or _closed(each):
                raise Refusal(
                    f"{each}: the service's own user cannot read it; put it where everybody can "
                    "(program in /opt, configuration in /etc/ampwright), or install it as a user"
                )


def _closed(path: Path) -> bool:
    try:
        if not path.stat().st_mode & stat.S_IROTH:
            return True
        return any(not folder.stat().st_mode & stat.S_IXOTH for folder in path.parents)
    except OSError:
        return True


def _check_record(config: Config) -> None:
    directory = config.history.directory
    if directory is not None and not directory.absolute().is_relative_to(STATE_FOLDER):
        raise Refusal(
            f"{config.name}: [history] directory: expected one below {STATE_FOLDER} for a service "
            f'of the system, found {directory}; try directory = "{STATE_FOLDER}/record"'
        )


def is_root() -> bool:
    return os.geteuid() == 0
