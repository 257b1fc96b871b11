"""Sentences with temperatures, in Fahrenheit: every one that the program has."""

from __future__ import annotations

import ast
import re
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Final

import pytest

import monitor.engine
from monitor.words.degrees import in_degrees, told_in
from tests.monitor.dashboard.fake_feed import HOT, NORMAL

MONITOR: Final = Path(next(iter(monitor.engine.__path__))).parent

TOLD: Final = tomllib.loads(
    (Path(__file__).parent / "temperatures.toml").read_text(encoding="utf-8")
)["told"]


def sentences() -> set[str]:
    """As they stand in the source, a figure for each thing that is filled in."""
    found = set()
    for room in ("engine", "commission"):
        for path in sorted((MONITOR / room).glob("*.py")):
            found |= _in(path)
    return {each for each in found if re.search(r"\d\s?°C", each)}


def _in(path: Path) -> set[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    documents = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    found, inside = set(), set()
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            inside |= {id(each) for each in ast.walk(node) if each is not node}
            found.add(
                "".join(
                    str(part.value) if isinstance(part, ast.Constant) else "20"
                    for part in node.values
                )
            )
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant) or not isinstance(node.value, str):
            continue
        if id(node) not in inside and id(node) not in documents:
            found.add(re.sub(r"\{[^{}]*\}", "20", node.value))
    return found


def test_every_sentence_with_a_temperature_is_known() -> None:
    there = sentences()
    assert len(there) > 40
    assert not there - set(TOLD), "say in temperatures.toml what these are in Fahrenheit"
    assert not set(TOLD) - there, "no longer said: take them out of temperatures.toml"


@pytest.mark.parametrize("words", sorted(TOLD))
def test_a_sentence_in_fahrenheit(words: str) -> None:
    assert in_degrees(words, True) == TOLD[words]
    assert in_degrees(words, False) == words
    assert in_degrees(TOLD[words], True) == TOLD[words]


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"),
    [
        ("18.24 °C", "64.83 °F"),
        ("-17.8 °C", "0.0 °F"),
        ("house bank temperature: spare says 6.2 °C more than shunt", "11.2 °F more than shunt"),
        ("999 °C is outside -39..90 °C", "1830 °F is outside -38..194 °F"),
        ("case above the air 16.2 °C, expected at most 15 °C", "29.2 °F, expected at most 27 °F"),
        ("thermometer at the post 21.5 ±1.5 °C", "70.7 ±2.7 °F"),
        (
            "sensor less thermometer -6.2 ±1.6 °C, expected -4 to 4 °C",
            "sensor less thermometer -11.2 ±2.9 °F, expected -7 to 7 °F",
        ),
        ("case 120 ±2 °C, expected at most 105 °C", "case 248 ±4 °F, expected at most 221 °F"),
        ("rise when the post was warmed at least 1 °C", "at least 2 °F"),
        ("shown less thermometer: -4 to 4 °C (our choice)", "thermometer: -7 to 7 °F"),
        ("change on the probe 20.0 ±2.1 °C", "36.0 ±3.8 °F"),
        ("-5.1 mV per °C and cell", "-5.1 mV per °C and cell"),
        ("0.25 C is much, 20 Ah", "0.25 C is much, 20 Ah"),
    ],
)
def test_what_is_put_together_while_it_runs(celsius: str, fahrenheit: str) -> None:
    assert fahrenheit in in_degrees(celsius, True)


def test_a_whole_snapshot_is_turned_and_what_has_no_temperature_stays_itself() -> None:
    snapshot = replace(NORMAL, alarms=(HOT,))
    turned = told_in(snapshot, True)
    assert "above 122 °F" in turned.alarms[0].words
    assert "124 °F for 3 min, limit 122 °F" in turned.alarms[0].evidence[0].words
    assert turned.banks is snapshot.banks
    assert turned.alarms[0].state is HOT.state
    assert told_in(NORMAL, True) is NORMAL
    assert told_in(snapshot, False) is snapshot
