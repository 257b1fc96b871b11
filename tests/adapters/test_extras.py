"""The command that installs a library, held to what pyproject.toml asks for."""

from __future__ import annotations

import shlex
import sys
import tomllib
from pathlib import Path

import pytest

from adapters.extras import EXTRAS, install

PROJECT = Path(__file__).resolve().parents[2]


def test_every_extra_is_the_library_that_the_project_names() -> None:
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text())
    extras = project["project"]["optional-dependencies"]
    assert {name: [library] for name, library in EXTRAS.items()} == {
        name: libraries for name, libraries in extras.items() if name != "test"
    }


def test_the_command_names_the_python_that_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", "/home/ann/my coach/.venv/bin/python")
    assert shlex.split(install("mqtt")) == [
        "/home/ann/my coach/.venv/bin/python",
        *("-m", "pip", "install", EXTRAS["mqtt"]),
    ]
