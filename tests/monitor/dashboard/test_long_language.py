"""In a language whose texts are longer no screen loses a figure or shows half of one."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from datetime import UTC
from types import ModuleType
from typing import Any, Final

import pytest

import monitor.dashboard.app as english
from monitor.engine.snapshot import Snapshot
from monitor.words.figures import UNITS
from tests.monitor.dashboard.fake_feed import (
    HOT,
    LOW,
    NORMAL,
    FakeFeed,
    FakePlayer,
    discharging,
    silent,
)
from tests.monitor.dashboard.long_language import long_language, longer, longer_value
from tests.monitor.dashboard.screen_text import SIZES, sized

MOMENTS: Final = {
    "charging": NORMAL,
    "discharging": discharging(NORMAL),
    "silent": silent(NORMAL, 400.0, "no answer within 1 s"),
    "alarmed": replace(NORMAL, alarms=(HOT, LOW)),
}
#: Keys of the screens; nothing for the live one.
KEYS: Final = {
    "now": "",
    "glance": "g",
    "trend": "r",
    "account": "u",
    "bank": "k",
    "alarms": "a",
    "devices": "d",
    "tonight": "o",
}
#: The screens that say other things at other moments, at all of them; the rest once.
SHOWN: Final = [
    (screen, moment)
    for screen in KEYS
    for moment in MOMENTS
    if screen in ("now", "glance", "account")
    or moment == ("alarmed" if screen == "alarms" else "charging")
]
#: Beside a stage with a long name: how likely another one is, or since when; under an alarm in
#: several rows: since when, or why it is one.
GIVEN_UP: Final = {
    ("now", "discharging", (30, 10)): ("29 %",),
    ("glance", "discharging", (30, 10)): ("29 %",),
    ("now", "discharging", (60, 20)): ("12:12", "20 min"),
    ("now", "alarmed", (40, 15)): ("11:20", "1 h"),
    ("alarms", "alarmed", (30, 10)): ("51 °C", "3 min"),  # a row further down
}
#: Sentences that are cut after a whole word where there is little room, and told in full elsewhere:
#: why the stage is believed, and an alarm in the list.
SENTENCES: Final = " ".join(
    (*(fact.words for fact in NORMAL.banks[0].stage.evidence), HOT.words, LOW.words)
)
PAGES: Final = frozenset({"account", "bank", "devices", "tonight"})
_UNIT: Final = "|".join(map(re.escape, sorted(UNITS, key=len, reverse=True)))
FIGURE: Final = re.compile(rf"[-+]?\d[\d.:]*(?: (?:{_UNIT})(?!\w))?")
CHART: Final = re.compile("[▀-█·▲▏━─]")


async def shown(
    app: ModuleType, snapshot: Snapshot, size: tuple[int, int], screen: str, playing: bool = False
) -> list[str]:
    """The rows of a screen; all its pages at once, on a terminal that is tall enough for them."""
    size = (size[0], 150) if screen in PAGES else size
    feed = FakeFeed(snapshot, FakePlayer() if playing else None)
    board = app.Dashboard(feed, zone=UTC)
    async with board.run_test(size=size) as pilot:
        for key in ("", *KEYS[screen]):
            if key:
                await pilot.press(key)
            for _ in range(3):
                await pilot.pause()
        top: Any = board.screen
        for _ in range(200):
            if screen != "tonight" or top._found is not None:
                break
            await pilot.pause(0.01)
        await pilot.pause()
        return rows(board)


def rows(board: english.Dashboard) -> list[str]:
    from monitor.dashboard.svg import screen_rows

    return ["".join(segment.text for segment in row).rstrip() for row in screen_rows(board)]


def figures(lines: list[str]) -> Counter[str]:
    """Every figure in words, with its unit; not those of scales and of keys."""
    kept = [line for line in lines if not CHART.search(line)]
    return Counter(FIGURE.findall(" ".join(" ".join(kept).split())))


def sizes() -> list[object]:
    """A telephone's in every run, the others with what is slow."""
    return [
        pytest.param(size, marks=() if size == (40, 15) else pytest.mark.slow) for size in SIZES
    ]


@pytest.mark.parametrize("size", sizes(), ids=lambda size: sized(size))
@pytest.mark.parametrize(
    ("screen", "moment"),
    [
        (screen, moment)
        if screen == "alarms" or moment == "charging"
        else pytest.param(screen, moment, marks=pytest.mark.slow)
        for screen, moment in SHOWN
    ],
)
async def test_no_figure_is_lost(size: tuple[int, int], moment: str, screen: str) -> None:
    snapshot = MOMENTS[moment]
    here = await shown(english, snapshot, size, screen)
    with long_language() as long:
        there = await shown(long, longer_value(snapshot), size, screen)
    picture = "\n".join(there)
    assert here != there, picture
    for lines in (here, there):
        assert "…" not in "".join(lines), picture
        assert max(map(len, lines)) <= size[0], picture
    lost = set(figures(here)) - set(figures(there))
    lost -= set(FIGURE.findall(SENTENCES)) | set(GIVEN_UP.get((screen, moment, size), ()))
    assert not lost, f"lost: {lost}\n{picture}"


@pytest.mark.parametrize("size", sizes(), ids=lambda size: sized(size))
async def test_the_bar_of_a_capture_stays_whole(size: tuple[int, int]) -> None:
    with long_language() as long:
        there = await shown(long, NORMAL, size, "now", playing=True)
    for lines in (await shown(english, NORMAL, size, "now", playing=True), there):
        (bar,) = [line for line in lines if re.search(r"27 h \S+ 3 days", line)]
        assert "x60" in bar


def test_texts_grow_as_they_do_in_translation() -> None:
    assert longer("float") == "floaaaaaat"
    assert longer("bank 12 V") == "bannnnnk 12 V"
    sentence = "the source keeps giving what it gave in the last quarter of an hour, and no more"
    assert 1.2 < len(longer(sentence)) / len(sentence) < 1.4
    assert longer("28.7 V, 18 °C, 40 min") == "28.7 V, 18 °C, 40 min"


async def test_afterwards_everything_is_in_english_again() -> None:
    lines = await shown(english, NORMAL, (80, 24), "now")
    assert any("until full" in line for line in lines)
