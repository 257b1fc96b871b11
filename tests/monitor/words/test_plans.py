"""Plans in words: at most eight lines of eighty columns, each with its interval and assumptions."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC

import pytest

from monitor.engine.plan import DawnAnswer, Moment, SunAnswer, Verdict, dawn
from monitor.engine.plan_generator import GeneratorAnswer, Quiet, generator
from monitor.engine.plan_load import LoadAnswer, load
from monitor.engine.snapshot import Estimate
from monitor.engine.ways import Likely
from monitor.words.figures import Clock
from monitor.words.plans import (
    COLUMNS,
    GENERATOR_CAUTION,
    LINES,
    dawn_lines,
    generator_lines,
    load_lines,
    sun_lines,
)
from tests.monitor.engine.outlooks import EVENING, every_hour, known

CLOCK = Clock(EVENING, UTC)
NOW = Estimate(0.91, 0.01)
HOUR = 3600.0
DAWN = DawnAnswer(
    Likely(0.712, 0.638, 0.784),
    Moment(7.2 * HOUR, "dawn by the sun's height at this place"),
    Likely(33.4, 24.2, 42.1),
    ("dawn by the sun's height at this place", "no source comes on", "loads of 3 days"),
)


def test_dawn() -> None:
    assert dawn_lines("house", DAWN, NOW, 0.5, 0.0, CLOCK) == [
        "house: 71 % at dawn (05:12), between 64 and 78 %",
        "Now 91 %, give or take 2; in 7 h 12 min the loads draw 33 Ah (24 to 42).",
        "It stays above the lowest planned, 50 %.",
        "Assumed: dawn by the sun's height at this place; no source comes on; loads of 3",
        "  days.",
    ]
    lines = dawn_lines("house", DAWN, NOW, 0.7, 0.0, CLOCK)
    assert lines[2] == "It may fall below the lowest planned, 70 %."
    lines = dawn_lines("house", DAWN, NOW, 0.8, 0.0, CLOCK)
    assert lines[2] == "It falls below the lowest planned, 80 %."
    assert len(dawn_lines("house", DAWN, NOW, None, 0.0, CLOCK)) == 4
    asked = replace(DAWN, dawn=Moment(9 * HOUR, "the time asked for", asked=True))
    assert dawn_lines("house", asked, NOW, None, 0.0, CLOCK)[0].startswith("house: 71 % at 07:00,")
    nameless = dawn_lines("house", asked, NOW, None, 0.0, Clock(None))
    assert nameless[0].startswith("house: 71 % in 9 h,")


def test_no_answer_says_why() -> None:
    answer = DawnAnswer(None, None, None, (), "no reading of volts and amps yet")
    assert dawn_lines("house", answer, Estimate(None, None), None, 0.0, CLOCK) == [
        "house: no answer to how full at dawn: no reading of volts and amps yet"
    ]


GENERATOR = GeneratorAnswer(
    seconds=Likely(9600.0, 7800.0, 12000.0),
    to_soc=0.9,
    amps=40.0,
    load_amps=4.2,
    soc=Estimate(0.64, 0.02),
    pays_seconds=Likely(7500.0, 6000.0, 9000.0),
    pays_soc=0.84,
    paying_share=0.5,
    ends_soc=None,
    quiet=Quiet(4 * HOUR, Likely(0.9, 0.88, 0.91), 2400.0),
    assumptions=("40 A from now on",),
)


def test_generator() -> None:
    assert generator_lines("house", GENERATOR, 0.0, CLOCK) == [
        "house: 2 h 40 min of generator to 90 %, between 2 h 10 min and 3 h 20 min",
        "Now 64 %, give or take 4; 40 A, of which the loads take 4.2 A.",
        "It stops paying after 2 h, at 84 %: then under 50 % of 40 A.",
        "Quiet from 02:00: start by 22:40 to be sure.",
        "Assumed: 40 A from now on.",
        GENERATOR_CAUTION,
    ]
    late = replace(GENERATOR, quiet=Quiet(HOUR, Likely(0.72, 0.7, 0.75), None), pays_seconds=None)
    lines = generator_lines("house", late, 0.0, CLOCK)
    assert lines[2] == "It pays to the end: over 50 % of 40 A until then."
    assert " ".join(lines[3:5]) == (
        "Quiet from 23:00 may come too soon: started now, 72 % by then, between 70 and 75 %."
    )
    short = replace(GENERATOR, to_soc=1.0, ends_soc=0.97)
    assert "The source would end its charge first, at 97 %." in generator_lines(
        "house", short, 0.0, CLOCK
    )
    done = replace(GENERATOR, seconds=Likely(0.0, 0.0, 0.0))
    assert generator_lines("house", done, 0.0, CLOCK)[0] == (
        "house: no generator is needed for 90 %: it is 64 %, give or take 4 now"
    )


LOAD = LoadAnswer(
    possible=Verdict.YES,
    watts=1200.0,
    seconds=1800.0,
    cut_off_volts=10.5,
    lowest_volts=Likely(11.65, 10.97, 11.95),
    amps=Likely(117.0, 114.0, 124.0),
    possible_seconds=Likely(2880.0, 1860.0, 3690.0),
    soc=Likely(0.46, 0.41, 0.51),
    cable_amps=129.9,
    assumptions=("a usual cut-off of 10.50 V",),
)


def test_load() -> None:
    assert load_lines("house", LOAD) == [
        "house: yes, 1200 W for 30 min is possible",
        "Down to 11.7 V, between 11.0 and 11.9 V; the inverter stops at 10.50 V.",
        "It can last 50 min (30 min to 1 h 5 min); afterwards 46 % is left, between 41",
        "and 51 %.",
        "Assumed: a usual cut-off of 10.50 V.",
        "Caution: cable and fuse must carry 130 A; feel for heat, never bypass.",
    ]
    worse = replace(
        LOAD,
        possible=Verdict.DOUBTFUL,
        lowest_volts=Likely(11.0, 0.0, 11.9),
        possible_seconds=Likely(2880.0, 600.0, 86400.0),
    )
    lines = load_lines("house", worse)
    assert lines[0] == "house: doubtful: 1200 W for 30 min may be too much"
    assert "between a collapse and 11.9 V" in lines[1]
    assert "(10 min to over 24 h)" in lines[2]
    gone = replace(
        LOAD,
        possible=Verdict.NO,
        lowest_volts=Likely(0.0, 0.0, 0.0),
        possible_seconds=Likely(0.0, 0.0, 0.0),
    )
    assert load_lines("house", gone)[:3] == [
        "house: no, 1200 W for 30 min is too much",
        "The voltage collapses; the inverter stops at 10.50 V.",
        "It stops as soon as the load is on.",
    ]


SUN = SunAnswer(
    Verdict.YES,
    Likely(0.98, 0.96, 1.0),
    Likely(15.0 * HOUR, 13.5 * HOUR, 18.0 * HOUR),
    Likely(122.0, 80.0, 160.0),
    (7.2 * HOUR, 22.0 * HOUR),
    ("sun of 3 days",),
)


def test_sun() -> None:
    assert sun_lines("house", SUN, NOW, 0.0, CLOCK) == [
        "house: yes, the coming day's sun fills the bank",
        "98 % by dusk (20:00 tomorrow), between 96 and 100 %; now 91 %, give or take 2.",
        "Full at about 13:00, between 11:30 and 16:00.",
        "The sun can give 120 Ah (80 to 160) in that day.",
        "Assumed: sun of 3 days.",
    ]
    no = replace(SUN, fills=Verdict.NO, full_seconds=None)
    assert sun_lines("house", no, NOW, 0.0, CLOCK)[0] == (
        "house: no, the coming day's sun does not fill the bank"
    )
    none = SunAnswer(None, None, None, None, None, (), "not known yet: needs 2 more days of sun")
    assert sun_lines("house", none, NOW, 0.0, CLOCK) == [
        "house: no answer to what the coming day's sun does: not known yet: needs 2 more",
        "  days of sun",
    ]


@pytest.mark.parametrize("soc", [0.05, 0.5, 0.98])
@pytest.mark.parametrize("chemistry", ["flooded", "lfp"])
def test_real_answers_fit(chemistry: str, soc: float) -> None:
    view = known(chemistry, soc, soc_sd=0.08, load=every_hour(60.0, 20.0))
    told = [
        dawn_lines("house", dawn(view), view.soc, 0.5, 0.0, CLOCK),
        generator_lines("house", generator(view, 0.97, 25.0, quiet_seconds=9e3), 0.0, CLOCK),
        load_lines("house", load(view, 1200.0, 1800.0)),
    ]
    for lines in told:
        assert 3 <= len(lines) <= LINES
        assert all(len(line) <= COLUMNS for line in lines)
