"""The evening's questions worked out on paper, and the reasons where there is no answer."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.bank import Source, SourceKind
from monitor.engine.daylight import Place
from monitor.engine.plan import MODEL_SOC, Moment, Verdict, dawn, next_dawn, sun
from monitor.engine.plan_generator import LEAST_HOURS, MODEL_SHARE, generator, source_for
from monitor.engine.plan_load import Inverter, load, warm_share
from monitor.engine.snapshot import Estimate
from tests.monitor.engine.outlooks import EVENING, every_hour, known, rest_volts, roof, sunny

HOUR = 3600.0
NO_LEADS = Inverter(cut_off_volts=10.5, efficiency=1.0, lead_ohms=0.0)


# When is dawn?


def test_dawn_is_the_sunrise_where_the_place_is_known() -> None:
    """London, 2 June: the sun rises at about 03:48 UTC (almanac, from memory)."""
    view = known(place=Place(51.5, -0.12))
    found = next_dawn(view, None)
    assert found is not None
    assert found.seconds == pytest.approx((5 + 48 / 60) * HOUR, abs=360.0)
    assert "sun's height" in found.words


def test_dawn_is_seven_by_the_clock_on_the_wall_where_it_is_not() -> None:
    found = next_dawn(known(), None)
    assert found is not None
    assert found.seconds == 9 * HOUR  # 22:00 to 07:00
    assert found.words.startswith("dawn at 07:00, since latitude")
    east = next_dawn(known(), 2 * HOUR)
    assert east is not None
    assert east.seconds == 7 * HOUR
    polar = next_dawn(known(place=Place(80.0, 0.0)), 0.0)
    assert polar is not None
    assert "does not rise" in polar.words
    assert next_dawn(known(wall_offset=None), 0.0) is None


# How full at dawn?


def test_dawn_is_what_is_left_after_the_night_s_load() -> None:
    """2 A for 9 h out of 100 Ah: from 80 to 62 %, within the model's own error."""
    view = known(load=None)
    view = replace(view, load=every_hour(2.0 * rest_volts(view)))
    answer = dawn(view)
    assert answer.soc is not None
    assert answer.load_amp_hours is not None
    assert answer.soc.figure == pytest.approx(0.62, abs=2e-3)
    assert answer.soc.low == pytest.approx(answer.soc.figure - 2 * MODEL_SOC, abs=1e-6)
    assert answer.load_amp_hours.figure == pytest.approx(18.0, rel=1e-3)
    assert answer.reason == ""


def test_a_standing_draw_past_the_shunt_counts() -> None:
    view = known()
    bank = replace(view.bank, standing_amps=1.0)
    answer = dawn(replace(view, bank=bank))
    assert answer.soc is not None
    assert answer.soc.figure == pytest.approx(0.71, abs=2e-3)


def test_dawn_s_interval_adds_what_is_unsure() -> None:
    """Each by itself: charge 5 %, loads a third of themselves (the hours hang together half)."""
    view = known()
    watts = 2.0 * rest_volts(view)
    soc = dawn(replace(known(soc_sd=0.05), load=every_hour(watts))).soc
    assert soc is not None
    assert soc.low == pytest.approx(0.62 - math.hypot(0.10, 0.02), abs=4e-3)
    assert soc.high == pytest.approx(0.62 + math.hypot(0.10, 0.02), abs=4e-3)
    soc = dawn(replace(view, load=every_hour(watts, watts / 3.0))).soc
    assert soc is not None
    share = math.sqrt(9 * 0.5 + 81 * 0.5) / 9 / 3
    assert soc.figure - soc.low == pytest.approx(math.hypot(2 * share * 0.18, 0.02), abs=3e-3)


def test_a_load_that_empties_the_bank_leaves_nothing_and_no_less() -> None:
    answer = dawn(known(soc=0.1, load=every_hour(200.0, 50.0)))
    assert answer.soc is not None
    assert answer.soc.low == answer.soc.figure == 0.0


def test_the_sun_of_the_evening_counts_until_dark() -> None:
    """Asked at 22:00 UTC west of Greenwich: two hours of 4 A go in before the night's 1 A."""
    view = known(soc=0.5)
    volts = rest_volts(view)
    night = replace(view, load=every_hour(volts))
    plain = dawn(night)
    with_sun = dawn(replace(night, sources=(roof(),), sun=sunny(5.0 * volts, 22, 24)))
    assert plain.soc is not None
    assert with_sun.soc is not None
    gained = with_sun.soc.figure - plain.soc.figure
    assert gained == pytest.approx(0.10, abs=0.012)  # a little more than 10 Ah at higher volts
    assert any("until dark the sun" in words for words in with_sun.assumptions)


def test_dawn_says_why_there_is_no_answer() -> None:
    assert dawn(None).reason == "no reading of volts and amps yet"
    assert "time of day" in dawn(known(wall_offset=None)).reason
    assert dawn(known(load=None)).reason == "no load was seen yet"
    asked = dawn(known(wall_offset=None), at=Moment(9 * HOUR, "asked", asked=True))
    assert asked.soc is not None


def test_hours_never_seen_are_said_and_doubted() -> None:
    seen = every_hour(26.0)
    half = seen._replace(watts=(*seen.watts[:2], *([None] * 22)))
    sure, doubtful = dawn(known(load=seen)), dawn(known(load=half))
    assert sure.soc is not None
    assert doubtful.soc is not None
    assert doubtful.soc.high - doubtful.soc.low > 2 * (sure.soc.high - sure.soc.low)
    assert any("22 hours of the day never seen" in words for words in doubtful.assumptions)


# How long a generator?


def test_a_generator_runs_for_what_is_missing_over_what_it_gives() -> None:
    """40 Ah at 40 A less 2 A of load: 63 min; LFP takes all of it (a thousandth is lost)."""
    view = known(soc=0.5)
    held = view.held_volts.figure
    assert held is not None
    watts = 2.0 * view.bank.cells * 0.5 * (held + rest_volts(view) / view.bank.cells)
    answer = generator(replace(view, load=every_hour(watts)), 0.9, 40.0)
    assert answer.seconds is not None
    hours = 40.0 / 38.0
    assert answer.seconds.figure / HOUR == pytest.approx(hours, rel=0.02)
    own = math.hypot(2 * MODEL_SHARE * hours, 2 * LEAST_HOURS)
    assert (answer.seconds.high - answer.seconds.figure) / HOUR == pytest.approx(own, rel=0.1)
    assert answer.pays_seconds is None
    assert answer.ends_soc is None


def test_doubt_of_the_charge_is_doubt_of_the_time() -> None:
    answer = generator(known(soc=0.5, soc_sd=0.05), 0.9, 40.0)
    assert answer.seconds is not None
    off = math.hypot(2 * 0.05 * 100 / 40, 2 * MODEL_SHARE * 1.0, 2 * LEAST_HOURS)
    assert (answer.seconds.figure - answer.seconds.low) / HOUR == pytest.approx(off, rel=0.1)


def test_lead_stops_paying_when_it_tapers() -> None:
    """From half to 97 % an AGM bank tapers under half of C/5 well before it is there."""
    answer = generator(known("agm", 0.5), 0.97, 20.0)
    assert answer.seconds is not None
    assert answer.pays_seconds is not None
    assert answer.pays_soc is not None
    assert answer.pays_seconds.figure < answer.seconds.figure
    assert 0.75 < answer.pays_soc < 0.97
    later = generator(known("agm", 0.5), 0.97, 20.0, paying_share=0.2)
    assert later.pays_soc is not None
    assert later.pays_soc > answer.pays_soc


def test_leads_make_the_taper_begin_sooner() -> None:
    """A source that holds its own terminals: 20 mohm more, and the end comes later."""
    shore = Source("shore", "house", SourceKind.AC_CHARGER, 30.0)
    bare = known("agm", 0.5, sources=(shore,), leads=(Estimate(0.0, 0.1),))
    long = replace(bare, leads=(Estimate(20.0, 0.1),))
    one = generator(bare, 0.95, 30.0, source="shore")
    other = generator(long, 0.95, 30.0, source="shore")
    assert one.seconds is not None
    assert other.seconds is not None
    assert other.seconds.figure > 1.05 * one.seconds.figure


def test_a_source_that_ends_its_charge_first_is_said() -> None:
    answer = generator(known("flooded", 0.9, end_amps=5.0), 1.0, 20.0)
    assert answer.seconds is not None
    assert answer.ends_soc is not None
    assert answer.ends_soc < 0.99


def test_there_may_be_time_before_quiet_hours_or_not() -> None:
    view = known(soc=0.5)
    enough = generator(view, 0.9, 40.0, quiet_seconds=3 * HOUR)
    assert enough.seconds is not None
    assert enough.quiet is not None
    assert enough.quiet.start_by == pytest.approx(3 * HOUR - enough.seconds.high)
    short = generator(view, 0.9, 40.0, quiet_seconds=0.5 * HOUR)
    assert short.quiet is not None
    assert short.quiet.start_by is None
    assert short.quiet.soc.figure == pytest.approx(0.5 + 0.5 * 40 / 100, abs=0.01)


def test_a_generator_says_why_there_is_no_answer() -> None:
    assert "no reading" in generator(None, 0.9, 40.0).reason
    weak = generator(known(load=every_hour(300.0)), 0.9, 10.0)
    assert weak.seconds is None
    assert weak.reason == "the loads take 21 A, the source gives 10 A"
    slow = generator(known(soc=0.2), 0.9, 1.0)
    assert slow.seconds is None
    assert slow.reason.startswith("not within 48 h: 68 % by then")
    done = generator(known(soc=0.8), 0.7, 20.0)
    assert done.seconds is not None
    assert done.seconds.figure == 0.0


def test_the_source_behind_a_generator_is_the_largest_that_runs_at_will() -> None:
    def source(name: str, kind: SourceKind, rated: float | None) -> Source:
        return Source(name, "house", kind, rated)

    own = (
        source("roof", SourceKind.SOLAR, 90.0),
        source("engine", SourceKind.ALTERNATOR, 80.0),
        source("small", SourceKind.AC_CHARGER, 15.0),
        source("large", SourceKind.AC_CHARGER, 60.0),
        source("mute", SourceKind.AC_CHARGER, None),
    )
    found, _ = source_for(own)
    assert found is not None
    assert found.id == "large"
    none, reason = source_for(own[:1])
    assert none is None
    assert "that a generator can feed" in reason  # the roof has its amps rated
    assert "how many amps" in reason


# Can the inverter run it?


def test_volts_under_a_load_are_ohm_s_law_at_first() -> None:
    """1000 W from 13.26 V behind 10 mohm: I = (13.26 - sqrt(13.26^2 - 40)) / 0.02 A."""
    view = known(ohms=Estimate(0.010, 0.0))
    rest = rest_volts(view)
    answer = load(view, 1000.0, 1.0, NO_LEADS)
    amps = (rest - math.sqrt(rest * rest - 4 * 0.010 * 1000.0)) / 0.020
    assert answer.lowest_volts is not None
    assert answer.amps is not None
    assert answer.amps.figure == pytest.approx(amps, rel=1e-3)
    assert answer.lowest_volts.figure == pytest.approx(rest - 0.010 * amps, abs=2e-3)
    assert answer.possible is Verdict.YES
    assert answer.cable_amps == pytest.approx(1000.0 / 10.5)


def test_efficiency_and_leads_count() -> None:
    view = known(ohms=Estimate(0.002, 0.0))
    plain = load(view, 1000.0, 1.0, NO_LEADS)
    real = load(view, 1000.0, 1.0, Inverter(10.5, 0.8, 0.005))
    assert plain.lowest_volts is not None
    assert real.lowest_volts is not None
    same = load(view, 1250.0, 1.0, Inverter(10.5, 1.0, 0.005))
    assert same.lowest_volts is not None
    assert real.lowest_volts.figure == pytest.approx(same.lowest_volts.figure)
    assert plain.lowest_volts.figure - real.lowest_volts.figure > 0.3


def test_charge_left_is_charge_less_what_was_drawn() -> None:
    """500 W for an hour at about 13 V: 38 Ah of 100."""
    answer = load(known(ohms=Estimate(0.002, 0.0)), 500.0, HOUR, NO_LEADS)
    assert answer.soc is not None
    assert answer.soc.figure == pytest.approx(0.8 - 500.0 / 13.05 / 100.0, abs=0.005)


def test_a_lead_bank_gives_less_at_a_high_rate_and_less_in_the_cold() -> None:
    """Peukert, 1.25, at half of C20: 10^0.25 = 1.78 times faster gone than counted."""
    view = known("flooded", 1.0, ohms=Estimate(0.001, 0.0))
    fast = load(view, 600.0, HOUR, NO_LEADS).possible_seconds
    assert fast is not None
    amps = 600.0 / 12.0
    expected = 100.0 / amps / (20.0 * amps / 100.0) ** 0.25
    assert fast.figure / HOUR == pytest.approx(expected, rel=0.15)
    cold = load(replace(view, celsius=0.0), 600.0, HOUR, NO_LEADS).possible_seconds
    assert cold is not None
    assert cold.figure < 0.85 * fast.figure


@pytest.mark.parametrize(
    ("celsius", "factor"),
    [(-3.9, 1.52), (4.4, 1.30), (10.0, 1.19), (15.6, 1.11), (25.0, 1.00), (37.8, 0.91)],
)
def test_capacity_in_the_cold_is_that_of_the_standard(celsius: float, factor: float) -> None:
    """IEEE 485's factors, which the published fit follows within a hundredth or so."""
    assert 1.0 / warm_share(True, celsius) == pytest.approx(factor, abs=0.015)


def test_lithium_in_the_cold_is_that_of_the_model() -> None:
    assert warm_share(False, 25.0) == 1.0
    assert warm_share(False, -40.0) == warm_share(False, -20.0)
    assert warm_share(False, 5.0) == pytest.approx(0.5 * (0.916 + 0.959))


def test_a_load_is_doubtful_where_only_a_part_of_the_interval_holds() -> None:
    view = known("agm", 0.6, ohms=Estimate(0.012, 0.004))
    answer = load(view, 1100.0, 60.0, NO_LEADS)
    assert answer.lowest_volts is not None
    assert answer.lowest_volts.low < 10.5 < answer.lowest_volts.high
    assert answer.possible is Verdict.DOUBTFUL
    assert load(view, 8000.0, 60.0, NO_LEADS).possible is Verdict.NO


def test_a_load_says_why_there_is_no_answer() -> None:
    assert "no reading" in load(None, 100.0, 60.0).reason
    above = load(known("agm"), 100.0, 60.0, Inverter(cut_off_volts=13.5))
    assert above.possible is None
    assert "above the rest voltage" in above.reason


@settings(max_examples=25, deadline=None)
@given(
    st.floats(0.3, 1.0),
    st.floats(50.0, 1500.0),
    st.floats(1.05, 3.0),
    st.floats(60.0, 7200.0),
)
def test_more_watts_or_more_time_never_help(
    soc: float, watts: float, more: float, seconds: float
) -> None:
    view = known("agm", soc, ohms=Estimate(0.006, 0.001))
    one = load(view, watts, seconds)
    harder = load(view, watts * more, seconds)
    longer = load(view, watts, seconds * more)
    for other in (harder, longer):
        assert one.lowest_volts is not None
        assert other.lowest_volts is not None
        assert other.lowest_volts.figure <= one.lowest_volts.figure + 1e-6
    assert one.possible_seconds is not None
    assert harder.possible_seconds is not None
    assert harder.possible_seconds.figure <= one.possible_seconds.figure + 1.0


# Does the sun fill it?


def sunlit(watts: float, soc: float = 0.5, sd: float = 0.0, days: float = 3.0):  # type: ignore[no-untyped-def]
    """22:00; no load; sun from 08:00 to 16:00 UTC, dawn assumed at 07:00, dusk at 19:00."""
    return known(soc=soc, sources=(roof(),), sun=sunny(watts, 8, 16, sd, days))


def test_a_day_s_sun_adds_its_ampere_hours() -> None:
    """8 h of 66.4 W are 8 h of about 5 A: 50 + 40 = 90 %, not full."""
    answer = sun(sunlit(66.4))
    assert answer.soc is not None
    assert answer.amp_hours is not None
    volts = 4 * 0.5 * (3.28 + 3.55)
    assert answer.amp_hours.figure == pytest.approx(8 * 66.4 / volts, rel=0.01)
    assert answer.soc.figure == pytest.approx(0.5 + 8 * 66.4 / volts / 100, abs=0.01)
    assert answer.fills is Verdict.NO
    assert answer.full_seconds is None


def test_a_strong_sun_fills_and_says_when() -> None:
    """20 A into 50 Ah that are missing: full about 2.5 h after 08:00."""
    answer = sun(sunlit(20.0 * 13.66))
    assert answer.fills is Verdict.YES
    assert answer.full_seconds is not None
    eight = 10 * HOUR
    assert answer.full_seconds.figure == pytest.approx(eight + 2.5 * HOUR, abs=0.2 * HOUR)
    assert answer.soc is not None
    assert answer.soc.figure > 0.97


def test_a_sun_that_may_do_is_doubtful() -> None:
    answer = sun(sunlit(6.5 * 13.66, sd=3.0 * 13.66))
    assert answer.fills is Verdict.DOUBTFUL


def test_the_sun_says_why_there_is_no_answer() -> None:
    assert "no reading" in sun(None).reason
    assert "no source of the kind solar" in sun(known()).reason
    assert "needs 1 more day of sun" in sun(sunlit(66.4, days=1.0)).reason
    assert "needs 2 more days of sun" in sun(known(sources=(roof(),))).reason
    assert "time of day" in sun(replace(sunlit(66.4), wall_offset=None)).reason


@settings(max_examples=20, deadline=None)
@given(st.floats(0.2, 0.95), st.floats(10.0, 80.0), st.floats(0.0, 0.1), st.floats(0.0, 0.2))
def test_intervals_hold_their_middle_and_grow_with_doubt(
    soc: float, watts: float, soc_sd: float, capacity_sd: float
) -> None:
    sure = dawn(known(soc=soc, load=every_hour(watts))).soc
    unsure = dawn(
        replace(known(soc=soc, soc_sd=soc_sd, capacity_sd=capacity_sd), load=every_hour(watts))
    ).soc
    assert sure is not None
    assert unsure is not None
    for each in (sure, unsure):
        assert 0.0 <= each.low <= each.figure <= each.high <= 1.0
    assert unsure.low <= sure.low + 1e-9
    assert unsure.high >= sure.high - 1e-9


def test_the_evening_is_what_it_is_called() -> None:
    assert EVENING % 86400.0 == 22 * HOUR
