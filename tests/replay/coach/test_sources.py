"""Sources step through their stages as real ones do, and share one bank."""

from __future__ import annotations

from dataclasses import replace

import pytest

from replay.coach.models import BankModel, LoadModel, Settings, SourceModel, SupplyModel, Weather
from replay.coach.plant import Plant
from replay.coach.scenario import Scenario
from replay.coach.simulate import simulate
from replay.coach.sky import clear_sky
from replay.coach.stories import STORIES
from replay.coach.supply import Supply
from replay.coach.truth import Truth

AGM = BankModel("house", "agm", 12, 100.0, soc=0.85, celsius=25.0)
STEADY = Weather(mean_celsius=25.0, swing_celsius=0.0, cloud=0.1)
THREE_STAGES = Settings(14.4, 13.6, end_amps=1.0)


def coach(*sources: SourceModel, hours: float = 8.0, **more) -> Scenario:
    bank = more.pop("bank", AGM)
    return Scenario("test", "a test", bank, sources=sources, hours=hours, weather=STEADY, **more)


def charger(settings: Settings = THREE_STAGES, **more) -> SourceModel:
    return SourceModel("shore", "ac-charger", more.pop("amps", 20.0), settings, **more)


def rows(scenario: Scenario) -> list[Truth]:
    return [truth for _, truth in simulate(scenario)]


def stages(found: list[Truth]) -> list[str]:
    seen: list[str] = []
    for row in found:
        if not seen or seen[-1] != row.source_stages[0]:
            seen.append(row.source_stages[0])
    return seen


def test_bulk_absorption_float_by_end_current():
    found = rows(coach(charger(sense=True)))
    assert stages(found) == ["bulk", "absorption", "float"]
    last = [row for row in found if row.stage == "absorption"][-1]
    assert last.source_amps[0] == pytest.approx(1.0, abs=0.1)
    assert last.volts == pytest.approx(14.4, abs=0.02)
    assert found[-1].volts == pytest.approx(13.6, abs=0.02)


def test_timer_ends_absorption_whatever_the_current():
    found = rows(coach(charger(Settings(14.4, 13.6, absorption_hours=0.5))))
    held = sum(1 for row in found if row.stage == "absorption") * 5 / 3600
    assert held == pytest.approx(0.5, abs=0.01)


def test_without_sense_leads_the_posts_rise_while_the_current_falls():
    found = rows(coach(charger(milliohms=10.0)))
    held = [row for row in found if row.stage == "absorption"]
    first, last = held[10], held[-1]
    assert first.volts == pytest.approx(14.4 - 0.0104 * first.source_amps[0], abs=0.02)
    assert last.volts - first.volts > 0.1


def test_with_sense_leads_the_posts_are_held():
    held = [
        row for row in rows(coach(charger(milliohms=10.0, sense=True))) if row.stage == "absorption"
    ]
    assert max(row.volts for row in held) - min(row.volts for row in held) < 0.03


def test_compensation_is_clamped():
    settings = replace(THREE_STAGES, compensation_mv=-4.0, compensation_celsius=(0.0, 40.0))
    plant = Plant(coach(charger(settings)))
    source = plant.sources[0]
    source.feed(20.0, 25.0)
    volts = {celsius: source.set_volts(celsius) for celsius in (25.0, 35.0, 60.0, -20.0)}
    assert volts[25.0] == pytest.approx(14.4)
    assert volts[35.0] == pytest.approx(14.4 - 0.24)
    assert volts[60.0] == pytest.approx(14.4 - 0.36)
    assert volts[-20.0] == pytest.approx(14.4 + 0.60)


def test_low_hold_with_boosts_is_an_ordinary_cycle():
    settings = Settings(
        14.4,
        13.6,
        end_amps=1.0,
        low_hold=13.2,
        low_hold_after_hours=3.0,
        boost_every_hours=6.0,
        boost_hours=0.5,
    )
    found = rows(coach(charger(settings, sense=True), hours=24.0))
    assert stages(found)[:5] == ["bulk", "absorption", "float", "absorption", "float"]
    full = next(index for index, row in enumerate(found) if row.stage == "float")
    low = [row.volts for row in found[full:] if row.stage == "float" and row.volts < 13.25]
    assert low
    boosted = [row for row in found[full:] if row.stage == "absorption"]
    boosts = len(boosted) * 5 / 3600 / 0.5
    assert boosts == pytest.approx(round(boosts), abs=0.05)


def test_equalize_is_limited_by_current_and_ends():
    settings = Settings(
        14.4, 13.5, end_amps=2.0, equalize=15.8, equalize_amps=4.0, equalize_hours=1.0
    )
    bank = replace(AGM, chemistry="flooded", soc=0.95)
    found = rows(coach(charger(settings, equalize_at=(5.0,)), bank=bank))
    equalizing = [row for row in found if row.stage == "equalize"]
    assert len(equalizing) * 5 / 3600 == pytest.approx(1.0, abs=0.01)
    assert max(row.source_amps[0] for row in equalizing) == pytest.approx(4.0, abs=0.01)
    assert found[-1].stage == "float"


def test_fixed_source_never_stages():
    found = rows(coach(charger(Settings(13.7, fixed=True))))
    assert stages(found) == ["fixed"]
    assert {row.stage for row in found} == {"fixed"}


def test_float_returns_to_bulk_after_a_long_heavy_load():
    inverter = LoadModel("inverter", 900.0, "given", at=((4.5, 30.0),))
    found = rows(coach(charger(sense=True), loads=(inverter,), hours=11.0))
    assert stages(found) == ["bulk", "absorption", "float", "bulk", "absorption", "float"]


def test_400_amps_for_a_moment_leave_absorption_as_it_is():
    inverter = LoadModel("inverter", 5000.0, "given", at=((1.0, 1.0),))
    bank = replace(AGM, amp_hours=400.0, soc=0.9)
    found = rows(coach(charger(sense=True, amps=60.0), loads=(inverter,), bank=bank, hours=3.0))
    assert min(row.amps for row in found) < -290.0
    during = [row for row in found if row.load_amps > 300.0]
    assert {row.source_stages[0] for row in during} == {"absorption"}
    assert all(row.ambiguous for row in during[1:])


def test_the_higher_of_two_sources_does_the_work_near_full():
    strong = charger(sense=True)
    weak = replace(strong, id="second", settings=replace(THREE_STAGES, absorption=14.2))
    found = rows(coach(strong, weak, bank=replace(AGM, soc=0.5)))
    early = found[60]
    assert early.source_amps[0] == pytest.approx(early.source_amps[1], rel=0.01)
    late = [row for row in found if row.source_stages[0] == "absorption"][-1]
    assert late.source_amps[0] > 0.9
    assert late.source_amps[1] == 0.0


def test_a_low_sun_imitates_a_taper_but_stays_bulk():
    """A few amps, falling, a little below the set-point: the panel's doing, not the bank's."""
    sun = SourceModel("roof", "solar", 20.0, THREE_STAGES, panel_watts=60.0)
    bank = replace(AGM, soc=0.9)
    found = rows(coach(sun, bank=bank, hours=30.0))
    giving = [row for row in found if row.source_amps[0] > 0.3]
    assert max(row.source_amps[0] for row in giving) < 4.0
    assert sum(row.stage in ("bulk", "discharge") for row in giving) > 0.5 * len(giving)


def test_sun_starts_anew_each_morning_and_sleeps_at_night():
    story = replace(STORIES["pinewater"], faults=(), hours=42.0)
    found = rows(story)
    roof = [row.source_stages[1] for row in found]
    nights = [index for index in range(1, len(roof)) if roof[index] == "off" != roof[index - 1]]
    mornings = [index for index in range(1, len(roof)) if roof[index - 1] == "off" != roof[index]]
    assert len(nights) >= 2
    assert len(mornings) >= 2
    assert all(roof[index] == "bulk" for index in mornings)


@pytest.mark.parametrize(
    ("latitude", "day", "hour", "low", "high"),
    [
        (45.0, 172, 12.0, 900, 1050),  # midsummer noon, middle latitude
        (45.0, 355, 12.0, 250, 450),  # midwinter
        (45.0, 172, 0.0, 0, 0),
        (0.0, 80, 12.0, 1000, 1050),
        (70.0, 355, 12.0, 0, 0),  # polar night
        (-35.0, 355, 12.0, 950, 1060),  # southern summer
    ],
)
def test_clear_sky(latitude, day, hour, low, high):
    assert low <= clear_sky(latitude, day, hour) <= high


def test_a_cord_with_nothing_on_it_has_volts_and_no_current() -> None:
    supply = Supply(SupplyModel(volts=230.0, other_watts=0.0), "seed")
    supply.advance(0.0, 0.98, present=True)
    assert (supply.amps, supply.watts, supply.factor) == (0.0, 0.0, 1.0)
    assert supply.volts == pytest.approx(230.0, abs=2.0)
    supply.advance(500.0, 0.98, present=True)
    assert supply.factor == pytest.approx(0.98)
