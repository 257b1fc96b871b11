"""Sentences: what is missing says why, and long texts are cut where one can see it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC

from hypothesis import given
from hypothesis import strategies as st

from monitor.engine.snapshot import Fact, Measured, Priority, Snapshot, Stage
from monitor.words import sentences as say
from monitor.words import sources
from monitor.words.bank import bank_sections
from monitor.words.evidence import evidence
from monitor.words.figures import Clock
from monitor.words.fitting import fitted
from tests.monitor.dashboard.fake_feed import (
    HOUSE,
    NORMAL,
    OFFSET,
    WINCH,
    silent,
    stage_view,
)

CLOCK = Clock(OFFSET, UTC)


def test_every_stage_and_priority_has_words() -> None:
    assert set(say.STAGE_MEANS) == set(Stage)
    assert set(say.PRIORITY_MARK) == set(say.PRIORITY_WORD) == set(Priority)


def test_marks_tell_priorities_apart_without_colour() -> None:
    assert len(set(say.PRIORITY_MARK.values())) == len(Priority)


def test_before_the_first_reading_nothing_was_anything() -> None:
    never = Measured(None, None, "no reading yet")
    bank = replace(HOUSE, volts=never, amps=never)
    assert say.stage_words(bank) == "not known yet"
    assert say.charged(bank) == "charge not known yet"
    assert say.electric(bank) == "no reading: no reading yet"


def test_a_doubtful_stage_names_the_other() -> None:
    view = stage_view(Stage.BULK, 0.55, 0.0, "", Stage.FIXED)
    assert say.certainty(view) == "55 % likely, or fixed 45 %"
    assert say.why(view) == "No evidence yet."


def test_what_a_source_says_against_what_it_does() -> None:
    shore = NORMAL.sources[0]
    assert sources.source_says(shore) == "says absorption"
    does = replace(shore, stage=stage_view(Stage.BULK, 0.9, 0.0, "at its limit"))
    assert sources.source_says(does) == "says absorption, does bulk"
    rests = stage_view(Stage.REST, 0.9, 0.0, "no current")
    assert sources.source_says(replace(shore, reported_stage="off", stage=rests)) == "says off"
    assert sources.source_says(replace(shore, reported_stage="unknown")) == ""


def test_loads_say_where_they_come_from() -> None:
    assert sources.loads_note(HOUSE) == "sources less bank"
    assert sources.loads_note(WINCH) == "no source is measured"
    measured = replace(HOUSE, load_amps=Measured(5.0, 1.0, "measured by the shunt"))
    assert sources.loads_note(measured) == "measured by the shunt"


@given(st.text(min_size=1, max_size=200), st.integers(4, 60), st.integers(1, 4))
def test_fitted_text_fits(text: str, width: int, rows: int) -> None:
    lines = fitted(text, width, rows).split("\n")
    assert len(lines) <= rows
    assert max(map(len, lines)) <= width


def words_of(snapshot: Snapshot) -> str:
    sections = evidence(snapshot, snapshot.banks[0], CLOCK)
    return "\n".join(line for section in sections for line in (section.heading, *section.lines))


def test_evidence_explains_every_figure() -> None:
    words = words_of(NORMAL)
    for piece in (
        "held voltage: held 28.72 V for 12 min",
        "all stages: absorption 94 %, fixed 6 %",
        "87 %, give or take 3",
        "counted: 212 Ah in and 174 Ah out since last full",
        "last full: 14:35 yesterday, 21 h ago",
        "usable capacity: 372 Ah, give or take 18",
        "resistance at 25 °C: 7.4 mΩ, give or take 1.2",
        "time to full: 2 h 40 min, 2 h to 3 h 30 min, about 15:10",
        "time left above 50 %: --, the bank is being charged",
        "assumed: the source keeps giving",
        "absorption set-point at 18 °C: 29.22 V",
        "shore: AC charger, rated 40 A",
        "shunt: answers, last reading just now",
    ):
        assert piece in words, piece


def test_evidence_of_silence_has_the_age() -> None:
    words = words_of(silent(NORMAL, 190.0, "no answer"))
    assert "volts: --, shunt is silent, last 3 min ago" in words
    assert "shunt: no answer, since 12:28 (3 min)" in words


def test_evidence_of_silence_tells_nothing_as_now() -> None:
    words = words_of(silent(NORMAL, 7200.0, "no answer"))
    for piece in (
        "not known now; was absorption",
        "no reading: shunt is silent, last 2 h ago",
        "until then, held voltage: held 28.72 V",
        "until then, all stages: absorption 94 %",
        "not known now; was 87 %, give or take 3",
        "was in it: ",
    ):
        assert piece in words, piece
    assert "94 % likely" not in words
    assert "\n87 %" not in words


def test_a_bank_with_no_current_reading_is_told_as_it_was() -> None:
    gone = Measured(None, 7200.0, "shunt is silent, last 2 h ago")
    bank = replace(HOUSE, amps=gone)
    assert say.stage_words(bank) == "not known now; was absorption"
    assert say.charged(bank) == "charge not known now; was 87 %, give or take 3"
    assert say.waiting_time(bank, 0.0, CLOCK) == (
        "no time to full: no current: shunt is silent, last 2 h ago"
    )
    assert say.electric(bank).endswith("28.72 V, 18 °C")
    assert say.brief_charged(bank) == "was 87 % ±3"


def test_the_bank_s_own_screen_tells_the_charge_as_past() -> None:
    bank = silent(NORMAL, 7200.0, "no answer").banks[0]
    lines = bank_sections(bank, (), NORMAL.seconds, CLOCK, fahrenheit=False)[0].lines
    assert lines[:2] == (
        "not known now; was 87 %, give or take 3",
        "no reading: shunt is silent, last 2 h ago",
    )
    assert lines[2].startswith("was about ")


def test_why_is_told_with_the_figures_that_stand_beside_it() -> None:
    """The evidence is smoothed: a source that comes on showed 13.10 V in it beside 14.62 V."""
    fact = Fact(
        "held voltage",
        "13.10 V, 2.4 A, on the way down to 13.10 V",
        (("volts", 13.1), ("amps", 2.4), ("set_point_volts", 13.1)),
    )
    bank = replace(
        HOUSE,
        volts=Measured(14.62, 1.0),
        amps=Measured(27.31, 1.0),
        stage=replace(HOUSE.stage, evidence=(fact,)),
    )
    assert say.why_now(bank) == "14.62 V, 27.3 A, on the way down to 13.10 V."
    unread = replace(bank, volts=Measured(None, None, "silent"), amps=Measured(None, None, ""))
    assert say.why_now(unread) == say.why(bank.stage)
