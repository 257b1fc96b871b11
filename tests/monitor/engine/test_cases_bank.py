"""A bank replaced by another, and everything learned that outlives a restart, with its date."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from adapters.reading import Action, Command
from monitor.engine.engine import Engine
from monitor.engine.snapshot import Learned
from monitor.engine.whose_state import StateError
from replay.coach.models import BankModel, LoadModel, Settings, SourceModel, Weather
from replay.coach.scenario import NewBank, Scenario
from replay.coach.truth import Truth
from tests.monitor.engine.coaches import (
    FRIDGE,
    SEEDS,
    Told,
    meter,
    shunt,
    site_of,
    told,
)

#: Hours at which the old batteries are carried out, the command given, the run over.
SWAP, OVER = 26.0, 34.0
OFFSET = 0.4
OLD = BankModel(
    "house", "agm", 12, 200.0, soc=0.6, capacity=0.7, resistance=1.8, acceptance=0.7, celsius=18.0
)


def swapped(seed: int = 1, command_hours: float = SWAP) -> Scenario:
    """A worn 200 Ah bank goes from full to deep to full, then a new one of half its size comes."""
    settings = Settings(
        14.4, 13.6, end_amps=2.0, end_seconds=120.0, absorption_hours=6.0, compensation_mv=-4.0
    )
    return Scenario(
        "swapped",
        "a bank that is replaced",
        OLD,
        sources=(
            SourceModel(
                "shore",
                "ac-charger",
                40.0,
                settings,
                milliohms=3.0,
                connected=((0.5, 9.0), (18.0, SWAP - 0.2), (SWAP + 1.0, 1e6)),
            ),
        ),
        loads=(FRIDGE, LoadModel("heater", 70.0, "given", at=((9.0, 9 * 60.0),))),
        devices=(shunt(OFFSET), meter("source_volts", "source_amps")),
        weather=Weather(18.0, 3.0),
        hours=OVER,
        seed=seed,
        new_bank=NewBank(SWAP, BankModel("house", "agm", 12, 100.0, soc=0.7, celsius=18.0)),
        commands=(Command(command_hours * 3600.0, "owner", Action.REPLACE_BANK, "house", "new"),),
    )


def ledger(engine: Engine) -> dict[str, Learned]:
    return {row.name: row for row in engine.snapshot().banks[0].learned}


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("late_minutes", [0.0, pytest.param(20.0, marks=pytest.mark.slow)])
def test_a_new_bank_is_not_the_old_one(late_minutes: float, seed: int) -> None:
    """Told at once or twenty minutes later: what was learned of the old is not the new one's."""
    seen: dict[str, Any] = {}

    def look(engine: Engine, truth: Truth) -> None:
        when = "before" if truth.seconds < SWAP * 3600.0 else "after"
        bank = engine.snapshot().banks[0]
        seen[when] = (ledger(engine), bank.charge, bank.set_points, truth)

    command = SWAP + late_minutes / 60.0
    run = told(swapped(seed, command), look=look, look_hours=(SWAP - 0.05, command + 0.2))
    before, charge_before, points_before, _ = seen["before"]
    after, charge_after, points_after, truth = seen["after"]

    # the bank's own: gone, back to what is assumed of a bank of this label
    fresh = Engine(site_of(swapped(seed), True)).banks[0].charge.view()
    assert before["usable-capacity"].seconds is not None
    known, new, unknown = (each.capacity_amp_hours for each in (charge_before, charge_after, fresh))
    assert known.sd < 0.8 * unknown.sd
    assert new.figure == pytest.approx(unknown.figure, rel=0.05)
    assert new.sd == pytest.approx(unknown.sd, rel=0.1)
    assert after["usable-capacity"].seconds is None
    assert charge_before.milliohms.figure is not None
    assert charge_after.last_full_seconds is None
    assert charge_before.last_full_seconds is not None
    assert "taper-time" not in after
    assert charge_after.soc.sd > 3.0 * charge_before.soc.sd

    # the installation's: kept, with its date
    offset = charge_after.sensor_offset_amps
    assert offset.figure == pytest.approx(OFFSET, abs=0.2)
    assert offset.sd == pytest.approx(charge_before.sensor_offset_amps.sd, rel=0.2)
    assert after["lead-resistance/shore"].seconds == before["lead-resistance/shore"].seconds
    assert points_after.absorption.figure == pytest.approx(points_before.absorption.figure, abs=0.1)

    # nothing is cried over a bank that is lighter by a third of its volts for a moment
    assert run.conditions() == set()
    assert truth.soc < 0.75  # the new one truly is as it came
    (event,) = run.named("forgotten")
    assert "sensor's offset" in event.words
    # and the new one is found out: full, within its own charge
    assert run.full_hours()[-1] > SWAP + 1.0
    assert run.soc_error(OVER - 2.0, OVER) < 0.05


@pytest.mark.slow
def test_without_the_command_the_old_figures_stay() -> None:
    """The control: it is the command that forgets."""
    run = told(replace(swapped(), commands=()).with_hours(SWAP + 0.5))
    charge = run.engine.snapshot().banks[0].charge
    assert charge.last_full_seconds is not None
    assert ledger(run.engine)["usable-capacity"].seconds is not None


def test_another_label_needs_another_config_and_the_old_state_is_refused() -> None:
    """Who writes the new ampere-hours into the config starts anew: one line says why."""
    run = told(swapped().with_hours(2.0))
    other = replace(swapped(), bank=replace(OLD, amp_hours=100.0))
    with pytest.raises(StateError, match=r"^engine state of another site [^\n]*start anew"):
        Engine(site_of(other, True), run.engine.state())


# -- what outlives a restart -----------------------------------------------------------------------

LIVED = 14.0
#: Every learned thing, and where its figure stands in the engine's state beside the ledger.
KEPT_AT = {
    "absorption-set-point": ("stage", "set_points", "absorption", "mean"),
    "float-set-point": ("stage", "set_points", "float_", "mean"),
    "sensor-offset": ("charge", "belief", "mean"),
    "usable-capacity": ("charge", "belief", "mean"),
    "charge-efficiency": ("charge", "belief", "mean"),
    "resistance": ("charge", "resistance", "ohms"),
    "taper-time": ("stage", "taper", "seconds"),
    "taper-floor": ("stage", "taper", "floor"),
}


@cache
def lived() -> Told:
    """Half a day of the old bank, set-points hidden: all there is to learn was learned."""
    return told(replace(swapped(), commands=(), new_bank=None).with_hours(LIVED), given=False)


def at(state: Any, path: tuple[str, ...]) -> Any:
    for key in path:
        state = state[key]
    return state


@pytest.mark.parametrize("name", KEPT_AT)
def test_each_learned_thing_is_kept_with_uncertainty_and_date(name: str) -> None:
    state = json.loads(json.dumps(lived().engine.state()))
    bank = state["memory"]["banks"][0]
    figure, sd, _, _, seconds, wall = bank["ledger"]["memory"][name]
    assert sd > 0.0
    assert 0.0 < seconds <= LIVED * 3600.0
    assert wall == swapped().start_unix
    assert at(bank, KEPT_AT[name]) is not None
    row = ledger(lived().engine)[name]
    assert (row.figure, row.sd, row.seconds, row.wall_offset) == (figure, sd, seconds, wall)
    assert row.words


def test_the_lead_of_each_source_is_kept_too() -> None:
    bank = lived().engine.state()["memory"]["banks"][0]
    figure, sd, *_, seconds, wall = bank["ledger"]["memory"]["lead-resistance/shore"]
    assert abs(figure - 3.0) < 3.0 * sd
    assert seconds > 0.0
    assert wall is not None
    assert len(bank["sources"][0]["lead"]["belief"]["mean"]) == 2


def test_what_was_learned_is_right_within_its_uncertainty() -> None:
    rows = ledger(lived().engine)
    assert rows["absorption-set-point"].figure == pytest.approx(14.4, abs=0.06)
    assert rows["float-set-point"].figure == pytest.approx(13.6, abs=0.08)
    assert abs(rows["sensor-offset"].figure - OFFSET) < 3.0 * rows["sensor-offset"].sd
    assert 0.5 < rows["charge-efficiency"].figure < 1.0
    assert 2.0 < rows["resistance"].figure < 60.0


def test_a_restart_restores_every_learned_figure() -> None:
    engine = lived().engine
    again = Engine(engine.site, json.loads(json.dumps(engine.state())))
    assert again.snapshot().banks[0].learned == engine.snapshot().banks[0].learned
    assert again.snapshot().banks[0].charge == engine.snapshot().banks[0].charge
    assert again.snapshot().banks[0].set_points == engine.snapshot().banks[0].set_points
    assert again.state() == engine.state()


def test_what_is_only_assumed_has_no_date() -> None:
    early = told(swapped().with_hours(0.3)).engine
    rows = ledger(early)
    assert rows["usable-capacity"].seconds is None
    assert "absorption-set-point" not in rows  # told, but never seen to be held
