"""Every TOML block of the documents, read by the program's own readers: no example may rot."""

from __future__ import annotations

import re
import textwrap
import tomllib
from pathlib import Path

import pytest

from adapters.adapter import unheard
from adapters.description import load_text, shipped_text
from monitor.config import parse_config

PROJECT = Path(__file__).resolve().parent.parent
BLOCK = re.compile(r"^[ ]*```toml\n(.*?)^[ ]*```$", re.M | re.S)
BANK = """
[banks.house]
chemistry = "flooded"
nominal_volts = 12
amp_hours = 220
"""


def blocks() -> list[tuple[str, str]]:
    found = []
    for name in ("README.md", "DEVELOPERS.md"):
        text = (PROJECT / name).read_text(encoding="utf-8")
        for match in BLOCK.finditer(text):
            line = text.count("\n", 0, match.start()) + 1
            found.append((f"{name}:{line}", textwrap.dedent(match[1])))
    return found


def test_there_are_examples_and_none_is_overlooked() -> None:
    text = "".join((PROJECT / name).read_text() for name in ("README.md", "DEVELOPERS.md"))
    assert len(blocks()) == text.count("```toml") >= 7


@pytest.mark.parametrize(("place", "text"), blocks(), ids=[place for place, _ in blocks()])
def test_an_example_is_read_as_it_stands(place: str, text: str) -> None:
    """Completed by a bank where it has none; devices are made, and not opened."""
    table = tomllib.loads(text)
    if "kind" in table:
        load_text(text, place)
        return
    if "chemistry" not in table.get("banks", {}).get("house", {}):
        text = BANK + text
    described = {"shunt.toml": shipped_text("modbus-template.toml")}
    config = parse_config(text, place, described)
    for device in config.devices:
        device.build(unheard)
