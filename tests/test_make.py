"""The first two minutes of a new user: what make says on a machine that lacks something."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parent.parent


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    """Enough of a checkout for make to start, in a folder with a space in its name."""
    folder = tmp_path / "a coach"
    folder.mkdir()
    for name in ("Makefile", "pyproject.toml", "constraints.txt"):
        shutil.copy(PROJECT / name, folder)
    return folder


def _python(folder: Path, refuses: str) -> Path:
    """A Python that fails whenever its command line holds `refuses`."""
    script = folder / "python-with-a-lack"
    script.write_text(
        f'#!/bin/sh\ncase "$*" in *{refuses}*) exit 1 ;; esac\nexec "{sys.executable}" "$@"\n'
    )
    script.chmod(0o755)
    return script


def _make(folder: Path, python: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["make", "demo", f"PYTHON=./{python.name}"],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_python_without_venv_gets_the_name_of_the_package(checkout: Path) -> None:
    run = _make(checkout, _python(checkout, "ensurepip"))
    assert run.returncode == 2
    major, minor = sys.version_info[:2]
    assert f"Install the package python{major}.{minor}-venv" in run.stderr
    assert "Traceback" not in run.stderr
    assert not (checkout / ".venv").exists()


def test_old_python_is_told_so(checkout: Path) -> None:
    run = _make(checkout, _python(checkout, "version_info\\ \\<"))
    assert run.returncode == 2
    assert "Python 3.11 or newer is needed" in run.stderr
    assert not (checkout / ".venv").exists()
