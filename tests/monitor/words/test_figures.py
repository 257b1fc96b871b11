"""Figures in words: no finer than they are known, and always saying how far off they may be."""

from __future__ import annotations

import math
from datetime import UTC

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.engine.snapshot import Estimate, Interval
from monitor.words.figures import (
    Clock,
    answer,
    give_or_take,
    percent,
    probability,
    signed_amps,
    span,
    temperature,
    volts,
)

#: 2026-05-05 12:00 UTC.
NOON = 1777982400.0


@pytest.mark.parametrize(
    ("figure", "words"),
    [
        (None, "--"),
        (0.0, "0 A"),
        (0.04, "0 A"),
        (-0.04, "0 A"),
        (0.06, "+0.1 A"),
        (-6.24, "-6.2 A"),
        (9.94, "+9.9 A"),
        (9.96, "+10 A"),
        (18.4, "+18 A"),
        (-127.6, "-128 A"),
    ],
)
def test_amps_have_a_sign_and_no_false_digits(figure: float | None, words: str) -> None:
    assert signed_amps(figure) == words


def test_volts_and_percent() -> None:
    assert volts(14.376) == "14.38 V"
    assert volts(None) == percent(None) == "--"
    assert percent(0.875) == "88 %"
    assert percent(-0.001) == "0 %"
    assert temperature(-0.4, False) == "0 °C"
    assert temperature(-0.4, True) == "31 °F"


def test_certainty_never_claims_all() -> None:
    assert probability(1.0) == "over 99 %"
    assert probability(0.0) == "under 1 %"
    assert probability(0.94) == "94 %"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (-5, "0 s"),
        (44, "40 s"),
        (59.9, "50 s"),
        (60, "1 min"),
        (119, "1 min"),
        (3599, "59 min"),
        (3600, "1 h"),
        (9600, "2 h 40 min"),
        (40_000, "11 h"),
        (200_000, "2 days"),
        (71.9 * 3600, "3 days"),
    ],
)
def test_spans(seconds: float, words: str) -> None:
    assert span(seconds) == words


@pytest.mark.parametrize(
    ("soc", "sd", "figure", "doubt"),
    [
        (0.871, 0.014, "87 %", "give or take 3"),
        (0.871, 0.0, "87 %", "give or take 1"),
        (0.871, None, "87 %", "give or take 1"),
        (0.62, 0.08, "60 %", "give or take 20"),
        (1.0, 0.02, "100 %", "give or take 4"),
        (0.0, 0.3, "0 %", "give or take 60"),
    ],
)
def test_charge_is_said_with_its_doubt(
    soc: float, sd: float | None, figure: str, doubt: str
) -> None:
    said = give_or_take(Estimate(soc, sd))
    assert said is not None
    assert (said.figure, said.doubt) == (figure, doubt)
    assert give_or_take(Estimate(None, None, "no reading")) is None


@given(st.floats(0, 1), st.floats(0, 0.5))
def test_what_is_said_covers_two_deviations(soc: float, sd: float) -> None:
    """Never narrower than twice the deviation, less the half step lost to rounding."""
    said = give_or_take(Estimate(soc, sd))
    assert said is not None
    assert 0 <= said.percent <= 100
    assert said.take >= 200 * sd - 1e-5
    assert abs(said.percent - 100 * soc) <= 2.5


def test_an_answer_is_rounded_by_its_interval() -> None:
    wide = answer(Interval(9_700, 7_300, 12_500))
    assert (wide.text, wide.between) == ("2 h 40 min", "2 h to 3 h 30 min")
    narrow = answer(Interval(9_700, 9_500, 9_900))
    assert (narrow.text, narrow.between) == ("2 h 42 min", "2 h 38 min to 2 h 45 min")
    assert answer(Interval(9_700, 9_700, 9_700)).between == ""
    assert answer(Interval(200_000, 100_000, math.inf)).between == "28 h or more"
    assert answer(Interval(3.0, 1.0, 10.0)).text == "1 min"


def test_no_answer_keeps_its_reason() -> None:
    reply = answer(Interval(None, None, None, "no source gives"))
    assert (reply.parts, reply.text, reply.reason) == ((), "--", "no source gives")


@given(st.floats(0, 1e6), st.floats(0, 1), st.floats(1, 10))
def test_any_answer_can_be_said(seconds: float, shorter: float, longer: float) -> None:
    reply = answer(Interval(seconds, seconds * shorter, seconds * longer))
    assert reply.parts
    assert reply.seconds is not None
    assert abs(reply.seconds - seconds) <= 1800 + 60


def test_clock_names_the_day_where_it_is_not_today() -> None:
    clock = Clock(NOON, UTC)
    hour = 3600
    assert clock.at(600, 0) == "12:10"
    assert clock.at(11.9 * hour, -2 * hour) == "23:54"
    assert clock.at(13 * hour, 2 * hour) == "01:00"
    assert clock.at(14 * hour, 0) == "02:00 tomorrow"
    assert clock.at(-14 * hour, 0) == "22:00 yesterday"
    assert clock.at(60 * hour, 0) == "Fri 00:00"
    assert clock.at(240 * hour, 0) == "15 May 12:00"
    assert Clock(None).at(0, 0) is None
