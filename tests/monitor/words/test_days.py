"""Days and months are data of ours: the machine's locale changes no screen."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

import monitor
from monitor.words.days import DAYS, MONTHS, day_month, named_day, weekday

SOURCES = sorted(Path(monitor.__path__[0]).rglob("*.py"))


def test_every_day_and_month_has_its_name() -> None:
    assert [weekday(date(2026, 6, 1 + n)) for n in range(7)] == list(DAYS)
    assert [day_month(date(2026, 1 + n, 5)) for n in range(12)] == [f"5 {each}" for each in MONTHS]
    assert named_day(date(2026, 5, 5)) == "Tue 5 May"


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.stem)
def test_nothing_asks_the_locale_for_a_name(path: Path) -> None:
    """Their names by a form of the clock would be those of whatever `setlocale` was called with."""
    text = path.read_text(encoding="utf-8")
    assert not [name for name in ("%a", "%A", "%b", "%B", "%c", "%x", "%p") if name in text]
    assert "setlocale" not in text
