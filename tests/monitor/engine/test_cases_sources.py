"""Sources seen by themselves: stage, share, report and leads of each, alone and two on one bank."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace

import pytest

from monitor.engine.engine import Engine
from monitor.engine.snapshot import SourceView
from replay.coach.scenario import Scenario
from replay.coach.stories import STORIES
from replay.coach.truth import Truth
from tests.monitor.engine.coaches import GIVEN, MOSTLY_GIVEN, SEEDS, Told, site_of, told

#: What a source's own stage in the simulation is to somebody who sees its volts and amps: one that
#: is off, or held off by another, gives nothing.
MEANS = {"off": {"rest"}}
EVERY_MINUTES = 5.0


def pair(seed: int, fault: str = "") -> Scenario:
    story = replace(STORIES["twofold"], seed=seed).with_hours(8.0)
    return story.with_fault(fault) if fault else story


def watched(scenario: Scenario, given: bool) -> tuple[Told, dict[str, Counter[tuple[str, str]]]]:
    """What each source truly did while it gave something, against what was said of it."""
    found: dict[str, Counter[tuple[str, str]]] = {s.id: Counter() for s in scenario.sources}

    def look(engine: Engine, truth: Truth) -> None:
        for place, view in enumerate(engine.snapshot().sources):
            gives = truth.source_amps[place] > 0.003 * (view.rated_amps or 1.0)
            said = "none" if view.stage is None else view.stage.stage.value
            true = truth.source_stages[place]
            found[view.id][(true if gives or true == "off" else "nothing", said)] += 1

    moments = [
        k * EVERY_MINUTES / 60.0 for k in range(1, int(scenario.hours * 60.0 / EVERY_MINUTES))
    ]
    return told(scenario, given, look, moments), found


def right(counts: Counter[tuple[str, str]], *stages: str) -> float:
    """The share of what was truly one of these stages that was said to be so."""
    of = {pair: n for pair, n in counts.items() if pair[0] in stages}
    return sum(n for (t, s), n in of.items() if s == t or s in MEANS.get(t, ())) / sum(of.values())


def views(run: Told) -> dict[str, SourceView]:
    return {view.id: view for view in run.engine.snapshot().sources}


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("given", GIVEN)
def test_two_sources_that_share(given: bool, seed: int) -> None:
    run, found = watched(pair(seed), given)
    for counts in found.values():
        assert right(counts, "bulk", "absorption", "float") > 0.97
    for view in views(run).values():
        assert view.lead_milliohms.figure is not None
        assert view.lead_milliohms.sd is not None
        assert view.lead_milliohms.sd < 0.5
        assert abs(view.lead_milliohms.figure - 3.0) < 2.5 * view.lead_milliohms.sd
        assert view.contrary is None
    assert run.conditions() == set()
    assert run.macro_f1() > 0.97


@pytest.mark.parametrize("given", MOSTLY_GIVEN)
def test_one_of_two_that_does_nearly_all_the_work(given: bool) -> None:
    """The other is set half a volt lower: it gives nothing while the first absorbs, and says so."""
    shares: list[tuple[float | None, float | None]] = []
    stages: Counter[tuple[str, str]] = Counter()

    def look(engine: Engine, truth: Truth) -> None:
        left, right_ = engine.snapshot().sources
        if truth.source_stages[0] == "absorption" and truth.source_amps[1] == 0.0:
            shares.append((left.share, right_.share))
            assert left.stage is not None
            assert right_.stage is not None
            stages[(left.stage.stage.value, right_.stage.stage.value)] += 1

    run = told(pair(1, "uneven_sharing"), given, look, [2.5 + 0.1 * k for k in range(20)])
    assert len(shares) > 5
    for left, other in shares:
        assert left is not None
        assert other is not None
        assert left > 0.1
        assert other < 0.01
    # the silent one is in float by its own rules, and gives nothing: either is right
    assert set(stages) <= {("absorption", "rest"), ("absorption", "float")}
    assert "source-cut-off" not in run.conditions()


@pytest.mark.parametrize("seed", SEEDS)
def test_a_source_that_says_one_thing_and_does_another(seed: int) -> None:
    """Both are told: in the condition, in its evidence and beside the source itself."""
    story = replace(STORIES["bench"], seed=seed).with_hours(7.0).with_fault("report_disagrees")
    contrary: list[str] = []
    evidence: list[str] = []

    def look(engine: Engine, truth: Truth) -> None:
        (view,) = engine.snapshot().sources
        assert view.reported_stage == "float"
        assert view.stage is not None
        assert view.stage.stage.value == truth.source_stages[0]
        contrary.append("" if view.contrary is None else view.contrary.words)
        evidence.extend(fact.words for fact in view.stage.evidence)

    run = told(story, look=look, look_hours=(1.0, 2.5, 3.5, 6.9))
    assert contrary[0].startswith("it says float, but is seen in bulk")
    assert contrary[1].startswith("it says float, but is seen in absorption")
    assert contrary[3] == ""  # it floats now, as it always said
    assert any("float" in words and "says" in words for words in evidence)
    first = run.named("source-at-odds")[0]
    assert 0.5 < first.seconds / 3600.0 < 1.3
    (fact,) = first.evidence
    assert fact.words.startswith("it says float, but is seen in bulk for 3")
    assert any(
        alarm.evidence[0].words.startswith("it says float, but is seen in absorption")
        for alarm in run.engine.snapshot().alarms
        if alarm.name == "source-at-odds"
    )


def test_an_honest_source_is_not_contradicted() -> None:
    run = told(STORIES["bench"].with_hours(7.0))
    assert run.named("source-at-odds") == []


@pytest.mark.parametrize("given", MOSTLY_GIVEN)
def test_sun_and_shore_each_by_itself(given: bool) -> None:
    """Shore goes at 14.5 h; before dawn both are off; then the sun alone charges."""
    story = replace(STORIES["pinewater"], faults=()).with_hours(19.0)
    run, found = watched(story, given)
    assert right(found["shore"], "absorption", "float") > 0.95
    assert right(found["shore"], "off") > 0.95
    assert right(found["roof"], "off") > 0.9
    by_name = views(run)
    for name, milliohms in (("shore", 3.5), ("roof", 5.0)):
        lead = by_name[name].lead_milliohms
        assert lead.figure is not None
        assert lead.sd is not None
        assert abs(lead.figure - milliohms) < 3.0 * lead.sd
        assert lead.sd < 0.8
    assert "source-cut-off" not in run.conditions()
    assert "joint-resistance" not in run.conditions()


def test_what_a_source_is_survives_a_restart() -> None:
    """Cut anywhere: the same state, the same view, the same events from there on."""
    story = pair(1).with_hours(3.0)
    cut = told(story.with_hours(2.0))
    engine = Engine(site_of(story, True), json.loads(json.dumps(cut.engine.state())))
    assert engine.snapshot() == cut.engine.snapshot()
    assert engine.state() == cut.engine.state()
