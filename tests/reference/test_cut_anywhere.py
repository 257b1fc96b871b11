"""Cut anywhere: stop at any input, state to JSON, restore, go on; nothing differs, bit for bit.

Three proofs, each able to fail where the others may not: a run cut again and again against one that
is never cut (events and glances after every input, the last snapshot and state); single cuts, each
run to the end; and a restored engine that holds, attribute by attribute, all that the first one
holds. Quick on parts of some captures; slow on the whole of every one.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import lru_cache
from typing import Any, Final

import pytest

from adapters.reading import Action, Command, Input, LinkState, Reading, Tick
from monitor.bank import Site
from monitor.engine.engine import Engine
from monitor.engine.snapshot import AlarmState, Event, Glance
from monitor.engine.whose_state import StateError
from monitor.recorded import open_recorded
from tests.monitor.engine.alike import SCRATCH, differences, skipped
from tests.monitor.engine.captures import TRUTH, capture
from tests.monitor.engine.sites import SHORE_AMPS, SHORE_VOLTS, VOLTS, reading, site
from tests.monitor.recordings import shipped_path

NAMES: Final = sorted(path.name[:3] for path in TRUTH.glob("**/*.csv.gz"))
SHIPPED: Final = sorted(
    path.name.removesuffix(".capture.gz") for path in shipped_path().parent.glob("*.capture.gz")
)
#: Parts of captures in which much happens: first input, inputs, and how far the cuts are apart.
PARTS: Final = [
    ("pinewater", 0, 3000, 500),  # two sources with figures of their own, one silent for a while
    ("c04", 6000, 3000, 331),  # the sun behind clouds: load steps, stages that change
    ("c08", 0, 2600, 331),  # LFP from its plateau to its knee
    ("c11", 3500, 2500, 331),  # gaps and glitches
    ("c18", 2600, 2600, 331),  # a protection opens and closes
    ("g06", 4800, 1500, 331),  # an alarm that latches
]
#: A prime, so that cuts do not keep step with minutes and blocks.
STRIDE: Final = 997

Seen = tuple[tuple[Event, ...], tuple[Glance, ...]]


@lru_cache(maxsize=2)
def recorded(name: str) -> tuple[Site, Sequence[Input]]:
    """A truth capture or a shipped one: its site and all its inputs."""
    if name in SHIPPED:
        found = open_recorded(shipped_path(name))
        assert found.state is None
        return found.site, tuple(found.recording.inputs())
    _, where, readings = capture(name)
    return where, readings


def kept(engine: Engine) -> str:
    """The state as text; refuses what is no plain JSON."""
    return json.dumps(engine.state(), allow_nan=False)


def restored(where: Site, state: str) -> Engine:
    return Engine(where, json.loads(state))


def stepped(engine: Engine, each: Input) -> Seen:
    """One input's events, and every bank as it is then."""
    return engine.step(each), tuple(engine.glance(bank.id) for bank in engine.site.banks)


def assert_alike_when_chained(where: Site, inputs: Sequence[Input], stride: int) -> int:
    """One run cut and restored every `stride` inputs against one never cut; how many cuts."""
    whole, chained = Engine(where), Engine(where)
    cuts = 0
    for number, each in enumerate(inputs, start=1):
        assert stepped(chained, each) == stepped(whole, each), f"at input {number}"
        if number % stride == 0:
            state = kept(chained)
            chained = restored(where, state)
            assert kept(chained) == state
            cuts += 1
    assert chained.snapshot() == whole.snapshot()
    assert kept(chained) == kept(whole)
    return cuts


# Every attribute.


@pytest.mark.parametrize(("name", "first", "count", "stride"), PARTS, ids=lambda part: str(part))
def test_a_restored_engine_holds_what_the_first_one_holds(
    name: str, first: int, count: int, stride: int
) -> None:
    """And goes on alike: cuts of a part of a capture, each compared in every attribute."""
    where, inputs = recorded(name)
    part = inputs[first : first + count]
    whole, chained = Engine(where), Engine(where)
    for number, each in enumerate(part, start=1):
        assert stepped(chained, each) == stepped(whole, each), f"at input {number}"
        if number % stride == 0:
            chained = restored(where, kept(chained))
            assert differences(whole, chained) == []
    assert chained.snapshot() == whole.snapshot()
    assert kept(chained) == kept(whole)


def test_what_is_skipped_is_still_there_to_skip() -> None:
    """A list of scratch names that nobody has any more would hide a new room of the same name."""
    assert skipped(Engine(site())) == SCRATCH


def test_the_walk_sees_a_loss_a_share_and_a_kind() -> None:
    engine = Engine(site(sources=("shore",)))
    for second in range(200):
        engine.step(reading(float(second), 13.4, 20.0))
    state = json.loads(kept(engine))
    state["memory"]["banks"][0]["signal"]["noise_volts"] *= 1.0 + 1e-15
    (words,) = differences(engine, restored(engine.site, json.dumps(state)))
    assert words.startswith("engine.banks[0].signal.noise_volts: ")
    twin = restored(engine.site, kept(engine))
    twin.banks[0].charge.full_amps = 0
    twin.banks[0].panel.watch = restored(engine.site, kept(engine)).banks[0].watch
    found = differences(engine, twin)
    assert any(".charge.full_amps: None is not 0" in words for words in found)
    assert any("shared in the one engine, not in the other" in words for words in found)


# Inputs of every kind.


def busy() -> list[Input]:
    """Readings of two devices, ticks, links, a clock that jumps, every command."""
    inputs: list[Input] = [Tick(0.0, 1.7e9)]
    for second in range(1, 900):
        now = float(second)
        volts = 13.3 + 0.001 * second
        inputs.append(reading(now, volts, 40.0 if second % 120 < 80 else -15.0, -5.0))
        if second % 5 == 0:
            own = ((SHORE_VOLTS, volts + 0.1), (SHORE_AMPS, 42.0))
            inputs.append(Reading(now + 0.5, "charger", own))
        if second % 90 == 0:
            inputs.append(reading(now - 30.0, 9.0, 9.0, 9.0))
    told = (
        (100.0, Action.ACKNOWLEDGE, "house:no-such", ""),
        (200.0, Action.ACKNOWLEDGE, "", "seen"),
        (210.0, Action.SHELVE, "house", "60 until warm"),
        (330.0, Action.SHELVE, "shunt", ""),
        (350.0, Action.UNSHELVE, "shunt", ""),
        (400.0, Action.OUT_OF_SERVICE, "house", ""),
        (450.0, Action.IN_SERVICE, "house", ""),
        (460.0, Action.RESET, "house", ""),
        (500.0, Action.NOTE, "house", "cell 3 looks swollen"),
        (510.0, Action.METER_READING, "house:bank_volts", "12.62"),
        (600.0, Action.REPLACE_BANK, "house", ""),
    )
    inputs += [Command(at + 0.7, "owner", action, to, note) for at, action, to, note in told]
    inputs += [LinkState(250.2, "charger", False, "unplugged"), Tick(300.2, 1.7e9 + 7200.0)]
    inputs.sort(key=lambda each: each.seconds)
    inputs += [Tick(float(second)) for second in range(900, 960)]
    return inputs


@pytest.mark.parametrize("stride", [4, pytest.param(1, marks=pytest.mark.slow)])
def test_cut_at_every_few_inputs_and_at_every_single_one(stride: int) -> None:
    links = (("shunt", 1.0), ("charger", 5.0))
    where = site(sources=("shore",), links=links, rated_amps=50.0)
    assert assert_alike_when_chained(where, busy(), stride) > 1100 // stride


def test_a_figure_that_was_never_believed_is_not_forgotten() -> None:
    """A device that gives a bank's figures, all absurd, and then falls silent: it is lost."""
    where = site(links=(("shunt", 1.0), ("gauge", 1.0)))
    engine = Engine(where)
    for second in range(60):
        engine.step(reading(float(second), None, 10.0, 20.0))
        engine.step(Reading(second + 0.5, "gauge", ((VOLTS, 999.0),)))
    twin = restored(where, kept(engine))
    assert differences(engine, twin) == []
    down = LinkState(60.5, "gauge", False, "unplugged")
    assert twin.step(down) == engine.step(down)
    states = {alarm.condition.name: alarm.state for alarm in twin.banks[0].panel.alarms}
    assert states["over-voltage"] == AlarmState.SUPPRESSED


@pytest.mark.parametrize(
    "figure",
    [["house", "bank_volts", "x", 12.0], ["house", "bank_volts", 1.0, 999.0], ["house", "x", 1, 1]],
)
def test_a_kept_figure_that_nobody_would_believe_is_refused(figure: list[Any]) -> None:
    engine = Engine(site())
    engine.step(reading(0.0, 12.0, 1.0))
    state = json.loads(kept(engine))
    state["memory"]["alignment"]["memory"]["shunt"]["figures"].append(figure)
    with pytest.raises(StateError, match=r"^engine state is damaged [^\n]*: start anew$"):
        Engine(site(), state)


# Whole captures.


def test_there_are_captures() -> None:
    assert len(NAMES) == 24
    assert len(SHIPPED) >= 3


@pytest.mark.slow
@pytest.mark.parametrize("name", [*NAMES, *SHIPPED])
def test_a_whole_capture_cut_again_and_again(name: str) -> None:
    where, inputs = recorded(name)
    assert assert_alike_when_chained(where, inputs, STRIDE) >= 5


@pytest.mark.slow
@pytest.mark.parametrize("name", [*NAMES, *SHIPPED])
def test_single_cuts_of_a_whole_capture(name: str) -> None:
    """Each cut is run to the end; the engine holds all it should at every one."""
    where, inputs = recorded(name)
    cuts = [round(share * len(inputs)) for share in (0.02, 0.31, 0.64, 0.97)]
    whole = Engine(where)
    twins: list[Engine] = []
    for number, each in enumerate(inputs):
        if number in cuts:
            twins.append(restored(where, kept(whole)))
            assert differences(whole, twins[-1]) == []
        seen = stepped(whole, each)
        for twin in twins:
            assert stepped(twin, each) == seen, f"at input {number}"
    last, state = whole.snapshot(), kept(whole)
    for twin in twins:
        assert twin.snapshot() == last
        assert kept(twin) == state
