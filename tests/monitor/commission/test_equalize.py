"""Equalize where it is allowed: a flooded coach told to, well and badly; never elsewhere."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

import pytest

from monitor.bank import SetPoints, Site
from monitor.chemistries import CHEMISTRIES
from monitor.commission import checks_equalize
from monitor.commission import record as r
from monitor.commission.look import Look, SourceLook
from monitor.commission.procedure import Procedure
from monitor.commission.record import Outcome, Verdict
from monitor.commission.said import Said
from monitor.commission.setting import Setting
from monitor.engine.engine import Engine
from monitor.engine.look import look_at
from replay.coach.plant import Plant
from tests.monitor.commission.bench import STEP_SECONDS, Bench
from tests.monitor.commission.coach import INSTALLATION, SCENARIO, SITE
from tests.monitor.commission.runs import steps

_EQUALIZE: Final = 15.5
_READY: Final = tuple(checks_equalize.READY)
_POINTS: Final = SetPoints(
    absorption=14.5,
    float_=13.3,
    equalize=_EQUALIZE,
    compensation_mv_per_celsius_per_cell=-5.0,
    end_of_charge_amps=3.0,
    absorption_hours=4.0,
)
_BANK: Final = replace(SITE.banks[0], chemistry=CHEMISTRIES["flooded"], set_points=_POINTS)
_SITE: Final = Site(banks=(_BANK,), sources=SITE.sources, links=SITE.links)
_SET: Final = (
    r.SetPoint("absorption", "V", 14.5, 14.5),
    r.SetPoint("float", "V", 13.3, 13.3),
    r.SetPoint("equalize", "V", 15.5, _EQUALIZE),
    r.SetPoint("compensation", "mV", -5.0, -5.0),
)
_ENTERED: Final = replace(
    INSTALLATION,
    chemistry="flooded",
    chargers=tuple(replace(each, set_points=_SET) for each in INSTALLATION.chargers),
    limits=r.OwnLimits(16.2, 10.5, 80.0, 300.0, -10.0, 50.0, "sheet of the battery"),
)


def _procedure(site: Site = _SITE, entered: r.Installation = _ENTERED) -> Procedure:
    return Procedure(Setting(site, site.banks[0], entered))


def _outcome(procedure: Procedure) -> Outcome:
    return next(each for each in procedure.outcomes() if each.key == "equalize@shore")


def _ready(procedure: Procedure, seconds: float, **answers: str) -> None:
    procedure.hear(Said(seconds, "I", "equalize@shore", "begin"))
    for name in _READY:
        words = f"{name} = {answers.get(name, 'yes')}"
        procedure.hear(Said(seconds, "I", "equalize@shore", "enter", words))


def _bench() -> Bench:
    """The coach with flooded cells, nearly full, and a charger that can equalize."""
    shore, engine = SCENARIO.sources
    settings = replace(
        shore.settings,
        absorption=14.5,
        float_=13.3,
        compensation_mv=-5.0,
        equalize=_EQUALIZE,
        equalize_amps=10.0,
    )
    scenario = replace(
        SCENARIO,
        seed=3,
        bank=replace(SCENARIO.bank, chemistry="flooded", soc=0.9),
        sources=(replace(shore, settings=settings), engine),
    )
    bench = Bench(Plant(scenario))
    bench.sources("shore")
    bench.loads()
    return bench


def _run(defect: Callable[[Bench], None], told: bool = True, hours: float = 9.0) -> Procedure:
    """Charged until float, then told to equalize, which the bench does."""
    bench, procedure, engine = _bench(), _procedure(), Engine(_SITE)
    defect(bench)
    asked = False
    for inputs, _ in steps(bench):
        for value in inputs:
            engine.step(value)
        now = bench.plant.seconds + STEP_SECONDS
        procedure.look(look_at(engine, "house"))
        shore = bench.plant.source("shore")
        if not asked and shore.stage == "float":
            asked = True
            _ready(procedure, now)
            if told:
                shore.equalize_now()
        if _outcome(procedure).attempts or now > hours * 3600.0:
            return procedure
    raise AssertionError("a coach runs on")


def _none(bench: Bench) -> None:
    del bench


def _low(bench: Bench) -> None:
    bench.plant.source("shore").trim_volts = -0.5


def _no_compensation(bench: Bench) -> None:
    bench.plant.source("shore").compensation_mv = 0.0


def test_a_charger_that_equalizes_as_it_was_set_passes() -> None:
    outcome = _outcome(_run(_none))
    assert outcome.verdict is Verdict.PASS, outcome
    figures = {each.name: each.figure for each in outcome.figures}
    assert figures["set-point at the bank's temperature"] > _EQUALIZE  # a cold bank, compensated
    assert abs(figures["held less set-point"]) < 0.1


@pytest.mark.slow
def test_one_that_holds_too_little_fails_and_nothing_else_is_blamed_twice() -> None:
    procedure = _run(_low)
    outcome = _outcome(procedure)
    assert outcome.verdict is Verdict.FAIL
    assert "held less set-point" in outcome.why
    assert [each.key for each in procedure.record().defects] == ["absorption@shore"]
    assert outcome.follows == "absorption@shore"


@pytest.mark.slow
def test_one_that_was_told_to_and_does_not_fails() -> None:
    outcome = _outcome(_run(_none, told=False))
    assert outcome.verdict is Verdict.FAIL
    assert "never rose above absorption" in outcome.why


def _looks(procedure: Procedure, start: float, seconds: float, **figures: float) -> float:
    volts = figures.get("volts", 13.5)
    shore = (SourceLook("shore", volts, figures.get("amps", 6.0)),)
    celsius = figures.get("celsius", 25.0)
    now = start
    while now < start + seconds:
        now += 5.0
        procedure.look(
            Look(now, 1e9, volts, 6.0, celsius if celsius > -99.0 else None, sources=shore)
        )
    return now


@pytest.mark.parametrize("celsius", [5.0, 25.0, 40.0])
def test_the_set_point_is_that_of_the_temperature(celsius: float) -> None:
    for off, verdict in ((0.0, Verdict.PASS), (0.25, Verdict.FAIL), (-0.25, Verdict.FAIL)):
        procedure = _procedure()
        aim = _EQUALIZE - 0.005 * 6 * (celsius - 25.0)
        now = _looks(procedure, 0.0, 60.0, celsius=celsius)
        _ready(procedure, now)
        _looks(procedure, now, 4500.0, volts=aim + off, celsius=celsius)
        assert _outcome(procedure).verdict is verdict


@pytest.mark.parametrize("name", _READY)
def test_nothing_is_begun_before_it_is_safe(name: str) -> None:
    procedure = _procedure()
    now = _looks(procedure, 0.0, 60.0)
    _ready(procedure, now, **{name: "no"})
    _looks(procedure, now, 1200.0, volts=15.5)
    outcome = _outcome(procedure)
    assert outcome.verdict is Verdict.NOT_DONE
    assert outcome.why == checks_equalize.READY[name]


def test_without_an_answer_nothing_is_judged() -> None:
    procedure = _procedure()
    now = _looks(procedure, 0.0, 60.0)
    procedure.hear(Said(now, "I", "equalize@shore", "begin"))
    _looks(procedure, now, 3600.0, volts=15.5)
    assert _outcome(procedure).attempts == ()


def test_a_hot_bank_is_stopped_at_once() -> None:
    procedure = _procedure()
    now = _looks(procedure, 0.0, 60.0)
    _ready(procedure, now)
    _looks(procedure, now, 20.0, volts=15.0, celsius=46.5)
    outcome = _outcome(procedure)
    assert outcome.verdict is Verdict.FAIL
    assert "stop the charge now" in outcome.why


def test_without_a_temperature_it_cannot_be_told() -> None:
    procedure = _procedure()
    now = _looks(procedure, 0.0, 60.0, celsius=-100.0)
    _ready(procedure, now)
    _looks(procedure, now, 1200.0, volts=15.5, celsius=-100.0)
    assert "no temperature of the bank" in _outcome(procedure).why


@pytest.mark.parametrize("chemistry", ["agm", "gel", "lfp"])
def test_sealed_ones_and_lfp_never_get_it(chemistry: str) -> None:
    bank = replace(_BANK, chemistry=CHEMISTRIES[chemistry])
    procedure = _procedure(replace(_SITE, banks=(bank,)))
    outcome = _outcome(procedure)
    assert outcome.verdict is Verdict.NOT_APPLICABLE
    assert "must never be equalized" in outcome.why


def test_a_charger_without_such_a_set_point_has_nothing_to_show() -> None:
    bank = replace(_BANK, set_points=replace(_POINTS, equalize=None))
    procedure = _procedure(replace(_SITE, banks=(bank,)), INSTALLATION)
    outcome = _outcome(procedure)
    assert outcome.verdict is Verdict.NOT_APPLICABLE
    assert "no equalize set-point" in outcome.why


def test_its_dangers_are_told_before_hands_begin() -> None:
    item = _procedure().item("equalize@shore")
    assert item is not None
    for word in ("never LFP", "gas", "goggles", "Loads off", "46 °C", "Stay"):
        assert word in item.check.caution
