"""Every label, key and colour is classified, and there is room for other languages."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from monitor.dashboard.actions import DEEDS
from monitor.dashboard.widgets.hints import fitting
from monitor.words import account
from tests.monitor.dashboard.labels import colours, keys, labels

LIST = tomllib.loads((Path(__file__).parent / "vocabulary.toml").read_text(encoding="utf-8"))
SOURCES = ("trade", "standard", "ours", "published", "code")
#: German and Spanish are about a third longer than English (common practice of translators).
LONGER = 4 / 3


@pytest.mark.parametrize(
    ("kind", "there"), [("labels", labels()), ("keys", keys()), ("colours", colours())]
)
def test_every_word_has_a_source_and_no_source_is_left_over(kind: str, there: set[str]) -> None:
    assert len(there) > 30, "nothing was collected: the test would prove nothing"
    unknown = there - set(LIST[kind])
    assert not unknown, f"say in vocabulary.toml where these come from: {sorted(unknown)}"
    gone = set(LIST[kind]) - there
    assert not gone, f"no longer on a screen, take them out of vocabulary.toml: {sorted(gone)}"
    for word, source in LIST[kind].items():
        assert source.split(":")[0] in SOURCES, word


def test_names_of_the_sheet_leave_room_for_longer_languages() -> None:
    for _, (name, *_figures) in account._SIZES:
        for word in (account.TOGETHER, account.LOADS, account.BANK):
            assert len(word) <= name - 1
    widest = account._SIZES[0][1][0] - 1
    for word in (account.TOGETHER, account.LOADS, account.BANK):
        assert len(word) * LONGER <= widest


def test_hints_in_a_longer_language_still_have_the_way_out() -> None:
    longer = [(d.key, d.hint + "x" * round(len(d.hint) / 3), d.rank) for d in DEEDS if d.rank]
    assert [key for key, *_ in fitting(longer, 28)][:2] == ["q", "h"]
