"""LFP whose protection opens a side and closes it again: never full, never a dead device.

Told by the battery itself, seen by the source's volts, and with neither.
"""

from __future__ import annotations

import pytest

from monitor.engine.engine import Engine
from monitor.engine.snapshot import LinkView
from replay.coach.truth import Truth
from tests.monitor.engine.coaches import GIVEN, SEEDS, Told, guard, guarded, meter, told

#: What is known of the protection: its own report, the source's volts, both.
KNOWN = {
    "report": (guard(),),
    "volts": (meter("source_volts"),),
    "report and volts": (guard(), meter("source_volts")),
}
CASES = [
    pytest.param("report", id="report"),
    pytest.param("volts", id="volts"),
    pytest.param("report and volts", id="report and volts", marks=pytest.mark.slow),
]


def opened(run: Told) -> list[float]:
    """Hours at which the charge side opens."""
    return [
        after.seconds / 3600.0
        for before, after in zip(run.truths, run.truths[1:], strict=False)
        if before.charge_closed and not after.charge_closed
    ]


def links(engine: Engine) -> list[LinkView]:
    return [link for link in engine.snapshot().links if not link.up]


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("given", GIVEN)
@pytest.mark.parametrize("known", CASES)
def test_the_charge_side_opens_at_the_top(known: str, given: bool, seed: int) -> None:
    seen: list[str] = []

    def look(engine: Engine, truth: Truth) -> None:
        assert not truth.charge_closed
        bank = engine.snapshot().banks[0]
        assert bank.stage.stage.value == truth.stage
        assert links(engine) == []
        seen.extend(fact.words for fact in bank.stage.evidence)

    run = told(guarded(*KNOWN[known], seed=seed), given, look, (2.5, 3.0))
    first, second = opened(run)
    assert 1.0 < first < 2.0 < 5.0 < second < 7.0
    assert run.macro_f1() > 0.97
    # while it is open nothing charges the bank, whatever the source does
    assert run.share(first + 0.02, 4.0, "rest", "discharge") > 0.99
    assert run.full_hours() == []
    # said as a condition, each time it opens, and within two minutes
    name = "charge-side-open" if "report" in known else "source-cut-off"
    told_at = [event.seconds / 3600.0 for event in run.named(name)]
    assert len(told_at) == 2
    for moment, true in zip(told_at, (first, second), strict=True):
        assert 0.0 <= moment - true < 0.04
    (event, *_) = run.named(name)
    words = event.words + " ".join(event_cause(name))
    assert "protection" in words
    assert "charge side" in words
    # said as evidence of the stage
    assert any("protection" in words and "charge side" in words for words in seen)
    assert run.conditions() <= {"charge-side-open", "source-cut-off"}


def event_cause(name: str) -> tuple[str, ...]:
    from monitor.engine import conditions

    table = (*conditions.BANK, *conditions.SOURCE)
    return next(row.causes for row in table if row.name == name)


@pytest.mark.parametrize("given", GIVEN)
def test_with_nothing_to_see_it_by_nothing_is_made_up(given: bool) -> None:
    """The posts alone cannot tell an open side from a source that was switched off."""
    run = told(guarded(), given)
    assert run.full_hours() == []
    assert run.conditions() == set()
    assert run.share(opened(run)[0] + 0.05, 4.0, "rest", "discharge") > 0.99
    assert links(run.engine) == []


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("given", GIVEN)
@pytest.mark.parametrize("known", ["report", "volts", "posts"])
def test_the_discharge_side_opens_at_the_bottom(known: str, given: bool, seed: int) -> None:
    devices = KNOWN.get(known, ())
    run = told(guarded(*devices, empty=True, seed=seed), given)
    open_at = next(t.seconds / 3600.0 for t in run.truths if not t.discharge_closed)
    assert 1.0 < open_at < 3.0
    name = "discharge-side-open" if known == "report" else "discharge-cut-off"
    (event,) = run.named(name)
    assert 0.0 <= event.seconds / 3600.0 - open_at < 0.04
    assert "protection" in event.words
    assert "discharge side" in event.words
    # empty, resting, neither full nor dead; and charged again when a source comes
    assert run.share(open_at + 0.15, 3.95, "rest") > 0.95
    assert run.share(4.05, 8.0, "bulk") > 0.97
    assert run.full_hours() == []
    assert run.macro_f1() > 0.95
    assert links(run.engine) == []
    other = {"report": "discharge-cut-off"}.get(known, "discharge-side-open")
    low = {"cell-near-low-limit", "under-voltage", "under-voltage-at-rest"}
    assert run.conditions() <= {name, *low, "charge-side-open", "source-cut-off"} - {other}
    # warned before it opened
    (warned,) = run.named("cell-near-low-limit")[:1]
    assert warned.seconds / 3600.0 < open_at
    # over once charge comes in
    standing = {a.name for a in run.engine.snapshot().alarms if a.state == "unacknowledged"}
    assert name not in standing
