"""What a terminal without such signs gets: words, and never a lost line."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.reading import Tick
from monitor.commission.check import range_words, told
from monitor.commission.record import Figure, Limit
from monitor.report.told import amount
from monitor.words.in_ascii import IN_ASCII, spelled
from replay.capture import CaptureWriter, Header
from tests.monitor.commission.coach import CONFIG


@pytest.mark.parametrize(
    ("words", "ascii_words"),
    [
        ("lug 0.41 ±0.03 mΩ", "lug 0.41 +/-0.03 milliohm"),
        ("at most 1.65 mΩ", "at most 1.65 milliohm"),
        ("2 Ω", "2 ohm"),
        ("Ω", "ohm"),
        ("mm², 18.5 °C", "mm2, 18.5 C"),
        ("°±Ω", "+/-ohm"),
        ("█ 日", "? ?"),
    ],
)
def test_signs_are_spelled_out(words: str, ascii_words: str) -> None:
    assert words.encode("ascii", IN_ASCII).decode() == ascii_words


def test_what_a_terminal_knows_stays() -> None:
    assert "18 °C ± 1, 2 mΩ".encode("latin-1", IN_ASCII) == b"18 \xb0C \xb1 1, 2 milliohm"
    assert "2 mΩ".encode("utf-8", IN_ASCII).decode() == "2 mΩ"
    assert spelled("2 mΩ and 3 Ω") == "2 milliohm and 3 ohm"


@given(st.text())
def test_no_text_is_refused(text: str) -> None:
    told_in = text.encode("ascii", IN_ASCII)
    assert told_in.isascii()
    plain = (each for each in text if each.isascii())
    rest = iter(told_in.decode())
    assert all(each in rest for each in plain)  # in their order
    stream = io.TextIOWrapper(io.BytesIO(), "ascii", IN_ASCII, write_through=True)
    assert stream.write(text) == len(text)


def test_outcomes_are_told_in_milliohm() -> None:
    assert told(Figure("lug", 0.41, "mohm", 0.03)) == "0.41 ±0.03 mΩ"
    assert range_words(Limit("lug", "mohm", None, 0.3)) == "at most 0.3 mΩ"
    assert amount(0.3, "mohm") == "0.3 mΩ"


def test_a_command_on_an_ascii_terminal_says_milliohm(tmp_path: Path) -> None:
    capture = tmp_path / "coach.capture"
    writer = CaptureWriter(capture, Header(config=CONFIG))
    for seconds in (0.0, 60.0):
        writer.append(Tick(seconds))
    writer.close()
    told_in = {}
    for encoding in ("ascii", "utf-8"):
        run = subprocess.run(
            [sys.executable, "-m", "monitor.cli", "commission", "--play", str(capture), "--list"],
            capture_output=True,
            check=True,
            env={**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"},
            cwd=Path(__file__).parents[3],
        )
        told_in[encoding] = run.stdout.decode(encoding)
    assert "at most 0.3 milliohm" in told_in["ascii"]
    assert "at most 0.3 mΩ" in told_in["utf-8"]
    assert "mohm" not in told_in["utf-8"]
