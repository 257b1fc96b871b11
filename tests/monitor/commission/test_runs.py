"""Whole commissionings of the simulated coach: nothing wrong, and some defects. The rest of them,
with more installers, in `make commission-runs`."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest

from monitor.commission.look import Look
from monitor.commission.procedure import Procedure
from monitor.commission.record import Outcome, Verdict
from monitor.commission.record_file import as_text, from_text
from monitor.commission.replayed import replayed
from monitor.commission.setting import Setting
from monitor.engine.engine import Engine
from replay.capture import open_capture
from tests.monitor.commission.coach import DEFECTS, INSTALLATION, SITE
from tests.monitor.commission.runs import Run, commission, write_capture

_SETTING = Setting(SITE, SITE.banks[0], INSTALLATION)

#: What this coach has no use for.
_NOT_HERE = {
    "equalize@shore",
    "neutral",
    "generator",
    "change-over",
    "solar",
    "both-banks",
    "protection",
}


@pytest.fixture(scope="module")
def good() -> Run:
    return commission(1)


def test_a_good_installation_passes_every_check(good: Run) -> None:
    verdicts = {each.key: each.verdict for each in good.record.outcomes}
    assert {key for key, v in verdicts.items() if v is Verdict.NOT_APPLICABLE} == _NOT_HERE
    assert {v for key, v in verdicts.items() if key not in _NOT_HERE} == {Verdict.PASS}


def test_its_record_says_what_a_report_needs(good: Run) -> None:
    record = good.record
    assert record.coverage is not None
    assert record.coverage.share > 0.9
    assert record.clock is not None
    assert record.clock.trusted
    ends = {each.quantity: each for each in record.extremes}
    assert 14.3 < ends["volts"].highest < 14.8
    assert ends["volts"].high_limit == 15.0
    assert ends["amps"].low_limit == -300.0
    assert {each.cable for each in record.sizing} == {"charger to bank", "engine to bank"}
    drop = next(each for each in record.outcomes if each.key == "lead-drop@shore")
    assert drop.limits
    assert drop.limits[0].source
    assert all(each.uncertainty for each in drop.figures if each.name == "both legs")
    assert drop.who == "Installer"
    assert drop.wall is not None
    assert from_text(as_text(record), "x") == record


@pytest.mark.parametrize(
    ("last", "left"),
    [
        ("temperatures", 1_400.0),
        pytest.param(
            "handing_over", 14_000.0, marks=pytest.mark.slow
        ),  # in the middle of the charge
    ],
)
def test_its_capture_gives_the_same_outcomes_though_left_and_taken_up(
    last: str, left: float, tmp_path: Path
) -> None:
    """Readings and the installer's words stand in the capture: nothing else is needed. Left in
    the middle, and gone on with from the record, by a run whose feed counts anew."""
    made = commission(1, keep=True, last=last)
    engine = Engine(SITE)
    inputs = open_capture(write_capture(made, tmp_path / "made.capture")).inputs()
    procedure = Procedure(_SETTING)
    for _ in replayed(
        itertools.takewhile(lambda value: value.seconds < left, inputs), engine, procedure
    ):
        pass
    kept = from_text(as_text(procedure.record()), "x")
    assert [each.key for each in kept.open]
    taken_up = Later(Procedure(_SETTING, kept), left - 10.0)
    for _ in replayed(inputs, engine, taken_up):
        pass
    again = {each.key: each.verdict for each in taken_up.outcomes()}
    assert again == {each.key: each.verdict for each in made.record.outcomes}


class Later(Procedure):
    """A run of the program whose feed began at 0 when the capture was at `began`."""

    def __init__(self, real: Procedure, began: float) -> None:
        self.__dict__ = real.__dict__
        self.later = began

    def look(self, look: Look) -> tuple[Outcome, ...]:
        offset = None if look.wall_offset is None else look.wall_offset + self.later
        return super().look(look._replace(seconds=look.seconds - self.later, wall_offset=offset))


@pytest.mark.parametrize(
    ("defect", "last"),
    [
        ("reversed shunt", "negatives"),
        ("a load that bypasses the shunt", "negatives"),
        ("sensor in air", "temperatures"),
    ],
)
def test_a_defect_is_named_and_it_alone(defect: str, last: str) -> None:
    """The first hours; those that show later, and all of them to the end, below."""
    made = commission(2, defect, last=last)
    assert made.named == [DEFECTS[defect][1]]
    assert made.following == []


@pytest.mark.slow
@pytest.mark.parametrize("defect", sorted(DEFECTS))
@pytest.mark.parametrize("seed", [3, 4])
def test_every_defect_is_named_and_it_alone(defect: str, seed: int) -> None:
    made = commission(seed, defect)
    assert made.named == [DEFECTS[defect][1]]
