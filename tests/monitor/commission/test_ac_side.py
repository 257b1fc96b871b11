"""AC figures that a device tells: not asked, not another moment's, bettered by a meter."""

from __future__ import annotations

from pathlib import Path

import pytest

from monitor.bank import Bank, SetPoints, Site, Source, SourceKind
from monitor.chemistries import CHEMISTRIES
from monitor.commission.look import LOOKS, LOOKS_WITHOUT_AC, Look, SourceLook
from monitor.commission.procedure import Procedure
from monitor.commission.record import Charger, Installation, Outcome, Verdict
from monitor.commission.replayed import replayed
from monitor.commission.said import Said
from monitor.commission.setting import Setting
from monitor.engine.engine import Engine
from monitor.engine.snapshot import SupplyView
from monitor.words import commission as words
from replay.capture import open_capture
from tests.monitor.commission.elsewhere import PLACES
from tests.monitor.commission.runs import commission, write_capture

_POINTS = SetPoints(absorption=14.4, float_=13.6)
_SITE = Site(
    banks=(Bank("house", CHEMISTRIES["agm"], 12, 200.0, set_points=_POINTS),),
    sources=(Source("shore", "house", SourceKind.AC_CHARGER, 40.0, ac_volts=120.0),),
)
_ENTERED = Installation(
    bank="house",
    generator="G",
    split_supply=True,
    chargers=(Charger("shore", rated_amps=40.0, power_factor=0.95, efficiency=0.88),),
)
#: 40 A at 13.5 V through 0.88 and 0.95, from 120 V.
_SHORE = SupplyView(120.0, 121.0, 5.4, 60.0, 0.95)


class Beside:
    """A procedure shown a charger at full output and what feeds it."""

    def __init__(self) -> None:
        self.procedure = Procedure(Setting(_SITE, _SITE.banks[0], _ENTERED))
        self.seconds = 0.0

    def shown(self, supply: SupplyView | None, seconds: int, amps: float = 40.0) -> None:
        for _ in range(seconds):
            self.seconds += 1.0
            sources = (SourceLook("shore", 13.5, amps, None, supply),)
            self.procedure.look(Look(self.seconds, 0.0, 13.4, amps - 1.0, 20.0, sources))

    def say(self, key: str, word: str, rest: str = "") -> None:
        self.procedure.hear(Said(self.seconds, "I", key, word, rest))

    def outcome(self, key: str) -> Outcome:
        return next(each for each in self.procedure.outcomes() if each.key == key)

    def asked(self, key: str) -> list[str]:
        item = self.procedure.item(key)
        assert item is not None
        return [each.name for each in item.open_asks if not each.optional]


def _figures(outcome: Outcome) -> dict[str, float]:
    return {each.name: each.figure for each in outcome.figures}


def test_what_the_charger_tells_is_not_asked_and_judges_by_itself() -> None:
    beside = Beside()
    beside.say("ac-input@shore", "begin")
    beside.shown(_SHORE, 2)
    assert beside.asked("ac-input@shore") == []
    item = beside.procedure.item("ac-input@shore")
    assert item is not None
    assert words.what_next(item).startswith("watching")
    beside.shown(_SHORE, 40)
    outcome = beside.outcome("ac-input@shore")
    assert outcome.verdict is Verdict.PASS
    assert outcome.why == "told by its device: volts, amps, factor"
    assert _figures(outcome)["AC volts"] == pytest.approx(120.0)


def test_only_what_it_does_not_tell_is_asked() -> None:
    beside = Beside()
    beside.say("ac-input@shore", "begin")
    beside.shown(_SHORE.__class__(volts=120.0), 60)
    assert beside.asked("ac-input@shore") == ["amps", "factor"]
    assert beside.outcome("ac-input@shore").verdict is Verdict.NOT_DONE
    beside.say("ac-input@shore", "enter", "amps = 5.4")
    beside.say("ac-input@shore", "enter", "factor = 0.7")
    outcome = beside.outcome("ac-input@shore")
    assert outcome.verdict is Verdict.FAIL
    assert outcome.why.endswith("told by its device: volts")


def test_a_meter_wins_over_the_device_and_both_are_told() -> None:
    beside = Beside()
    beside.say("ac-input@shore", "begin")
    beside.shown(_SHORE, 5)
    for entry in ("volts = 108", "amps = 5.5", "factor = 0.95"):
        beside.say("ac-input@shore", "enter", entry)
    outcome = beside.outcome("ac-input@shore")
    assert outcome.verdict is Verdict.FAIL
    assert "AC volts" in outcome.why
    figures = _figures(outcome)
    assert figures["AC volts"] == 108.0
    assert figures["volts by its device"] == pytest.approx(120.0)


def test_where_it_gives_little_full_output_is_waited_for() -> None:
    beside = Beside()
    beside.say("ac-input@shore", "begin")
    beside.shown(_SHORE, 120, amps=5.0)
    assert beside.outcome("ac-input@shore").attempts == ()
    beside.shown(_SHORE, 900, amps=5.0)
    assert "too little output" in beside.outcome("ac-input@shore").why


def test_the_generator_is_not_judged_by_what_shore_gave_before() -> None:
    beside = Beside()
    beside.say("generator", "begin")
    beside.shown(_SHORE, 100)
    item = beside.procedure.item("generator")
    assert item is not None
    assert "say done" in words.what_next(item)
    assert beside.outcome("generator").attempts == ()
    slow = SupplyView(118.0, None, 5.5, 54.0, 0.95)
    beside.shown(slow, 2)
    beside.say("generator", "done")
    beside.shown(slow, 40)
    outcome = beside.outcome("generator")
    assert outcome.verdict is Verdict.FAIL
    assert _figures(outcome)["hertz"] == pytest.approx(54.0)


def test_a_neutral_by_both_legs_as_told() -> None:
    beside = Beside()
    beside.say("neutral", "begin")
    beside.shown(_SHORE, 60)
    apart = SupplyView(101.0, 139.0, 5.4, 60.0, 0.95)
    beside.say("neutral", "done")
    beside.shown(apart, 40)
    outcome = beside.outcome("neutral")
    assert outcome.verdict is Verdict.FAIL
    assert _figures(outcome)["legs apart"] > 30.0


def test_one_leg_told_leaves_the_other_asked() -> None:
    beside = Beside()
    beside.say("neutral", "begin")
    beside.shown(SupplyView(volts=120.0), 3)
    assert beside.asked("neutral") == ["leg 2"]


def test_a_recording_of_before_is_replayed_as_it_was_looked_at(tmp_path: Path) -> None:
    place = PLACES["generator"]._replace(parts=("papers", "generator"))
    made = commission(2, keep=True, place=place)
    capture = write_capture(made, tmp_path / "made.capture")
    found = {}
    for looks in (LOOKS, LOOKS_WITHOUT_AC):
        procedure = Procedure(Setting(place.site, place.site.banks[0], place.installation))
        inputs = open_capture(capture).inputs()
        for _ in replayed(inputs, Engine(place.site), procedure, looks):
            pass
        record = procedure.record()
        assert record.looks == looks
        found[looks] = next(each for each in record.outcomes if each.key == "generator")
    assert found[LOOKS].verdict is Verdict.PASS
    assert found[LOOKS].why == "told by its device: volts, hertz"
    assert found[LOOKS_WITHOUT_AC].verdict is Verdict.NOT_DONE
