"""The shape of the house: rooms with names, files that can be read, empty doorways."""

from __future__ import annotations

import ast
import subprocess
import tomllib
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parent.parent
PACKAGES = ("adapters", "replay", "monitor")
NAMELESS = {"utils", "util", "helpers", "helper", "common", "base", "misc"}
SOURCES = sorted(path for package in PACKAGES for path in (PROJECT / package).rglob("*.py"))


def test_sources_are_found() -> None:
    assert len(SOURCES) > 20


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(PROJECT)))
def test_room_has_a_name_and_fits(path: Path) -> None:
    assert path.stem not in NAMELESS
    lines = path.read_text().count("\n")
    assert lines <= 400, f"{path.name} has {lines} lines: it is asking to be two"


@pytest.mark.parametrize("package", PACKAGES)
def test_doorways_stay_empty(package: str) -> None:
    assert (PROJECT / package / "__init__.py").read_text() == ""


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(PROJECT)))
def test_every_room_says_what_it_is(path: Path) -> None:
    text = path.read_text()
    if text:
        assert ast.get_docstring(ast.parse(text)), f"{path} has no docstring"


def test_versions_are_pinned_and_name_no_index() -> None:
    constraints = (PROJECT / "constraints.txt").read_text().splitlines()
    assert all("==" in line for line in constraints if line)
    assert not any("://" in line for line in constraints)
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text())
    pinned = {line.split("==")[0].lower().replace("_", "-") for line in constraints}
    for extra in [
        project["project"]["dependencies"],
        *project["project"]["optional-dependencies"].values(),
    ]:
        for requirement in extra:
            name = requirement.split("==")[0].split(">=")[0].lower()
            assert name in pinned, f"{requirement} has no line in constraints.txt"
    assert "textual==8.2.8" in project["project"]["dependencies"]
    assert "pymodbus>=3.16,<3.17" in project["project"]["dependencies"]


def test_no_test_folder_shadows_a_package() -> None:
    folders = {path.parent for path in (PROJECT / "tests").rglob("test_*.py")}
    assert folders
    assert not [folder for folder in folders if not (folder / "__init__.py").exists()]


def test_data_files_are_not_ignored() -> None:
    """A `*.gz` line in .gitignore would drop the captures from the wheel without a word."""
    names = [
        "replay/captures/x.capture.gz",
        "adapters/descriptions/x.toml",
        "monitor/dashboard/screens/x.tcss",
    ]
    run = subprocess.run(
        ["git", "check-ignore", *names], cwd=PROJECT, capture_output=True, text=True, check=False
    )
    if run.returncode == 128:
        pytest.skip("not a git checkout, so nothing is ignored")
    assert run.stdout == ""
