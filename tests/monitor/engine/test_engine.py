"""The engine as a whole: events, commands, links, the clock, and a state that goes on alike."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest

from adapters.reading import Action, Command, Input, LinkState, Quantity, Reading, Tick
from monitor.bank import SetPoints
from monitor.engine.engine import Engine
from monitor.engine.snapshot import AlarmState, Event, EventKind, Priority
from monitor.engine.whose_state import StateError
from tests.monitor.engine.captures import capture
from tests.monitor.engine.sites import SHORE_AMPS, SHORE_STAGE, SHORE_VOLTS, bank, reading, site

COLD_LFP = bank("lfp", set_points=SetPoints(absorption=14.2, float_=13.5))


def frozen_charge(engine: Engine, start: float = 0.0, until: float = 200.0) -> list[Event]:
    """An LFP bank charged at -5 °C: the condition that is quickest to raise."""
    events: list[Event] = []
    second = start
    while second <= until:
        events += engine.step(reading(second, 13.3, 40.0, -5.0))
        second += 1.0
    return events


def names(events: list[Event], kind: EventKind) -> list[str]:
    return [event.name for event in events if event.kind is kind]


def alarm_state(engine: Engine, name: str) -> AlarmState:
    for view in engine.snapshot().alarms:
        if view.name == name:
            return view.state
    return AlarmState.NORMAL


def command(seconds: float, action: Action, target: str, note: str = "") -> Command:
    return Command(seconds, "installer", action, target, note)


# Cut anywhere.


def attributes(thing: object) -> dict[str, Any]:
    found = dict(getattr(thing, "__dict__", {}))
    for kind in type(thing).__mro__:
        slots = kind.__dict__.get("__slots__", ())
        for name in (slots,) if isinstance(slots, str) else slots:
            if hasattr(thing, name):
                found[name] = getattr(thing, name)
    return found


#: Scratch space that is written before it is read at every step.
SCRATCH = (".stage._next", ".stage.scores.", ".filter._next", ".filter.scores.", "._trial.")


def differences(
    one: Any, other: Any, path: str = "engine", seen: set[int] | None = None
) -> list[str]:
    """Every plain value that differs between two engines, by its path."""
    seen = set() if seen is None else seen
    if isinstance(one, int | float | str | bool | None):
        same = one == other and type(one) is type(other)
        return [] if same else [f"{path}: {one!r} is not {other!r}"]
    if id(one) in seen or callable(one):
        return []
    seen.add(id(one))
    if isinstance(one, list | tuple):
        if len(one) != len(other):
            return [f"{path}: {len(one)} is not {len(other)} long"]
        pairs = [(f"{path}[{n}]", a, b) for n, (a, b) in enumerate(zip(one, other, strict=True))]
    elif isinstance(one, dict):
        if list(one) != list(other):
            return [f"{path}: {list(one)} are not {list(other)}"]
        pairs = [(f"{path}[{key}]", one[key], other[key]) for key in one]
    else:
        mine, theirs = attributes(one), attributes(other)
        pairs = [(f"{path}.{name}", mine[name], theirs.get(name)) for name in mine]
    return [
        words
        for where, a, b in pairs
        if not any(scratch in f"{where}." for scratch in SCRATCH)
        for words in differences(a, b, where, seen)
    ]


@pytest.mark.parametrize(
    ("name", "first", "count", "cuts"),
    [
        *(
            pytest.param(*each, marks=pytest.mark.slow)  # in every run: `test_cut_anywhere`
            for each in (
                ("c01", 0, 4000, 8),
                ("c11", 1000, 3000, 8),
                ("c17", 0, 3600, 6),
                ("c18", 2600, 2600, 6),
            )
        ),
        ("g06", 4800, 1500, 4),
    ],
)
def test_a_restored_engine_holds_everything_the_first_one_holds(
    name: str, first: int, count: int, cuts: int
) -> None:
    """Not one plain value anywhere in the engine is lost on the way through JSON."""
    _, where, readings = capture(name)
    engine = Engine(where)
    chosen = readings[first : first + count]
    every = count // cuts
    for number, each in enumerate(chosen, start=1):
        engine.step(each)
        if number % every == 0:
            twin = Engine(where, json.loads(json.dumps(engine.state(), allow_nan=False)))
            assert differences(engine, twin) == []


def story() -> list[Input]:
    """An unplug, commands, ticks, a clock jump and a shelving among the readings."""
    inputs: list[Input] = [Tick(0.0, 1.7e9)]
    inputs += [reading(float(second), 13.3, 40.0, -5.0) for second in range(1, 400)]
    inputs.append(command(400.0, Action.ACKNOWLEDGE, "house:charging-frozen"))
    inputs.append(command(401.0, Action.SHELVE, "house:charging-frozen", "90 until morning"))
    inputs += [Tick(float(second)) for second in range(402, 440)]
    inputs.append(LinkState(440.0, "shunt", False, "no answer in 3 polls"))
    inputs.append(Tick(445.0, 1.7e9 + 3600.0))
    inputs += [reading(float(second), 13.3, 40.0, -5.0) for second in range(450, 600)]
    inputs.append(reading(599.0, 9.0, 9.0, 9.0))  # late: changes nothing
    inputs.append(command(600.0, Action.NOTE, "house", "cell 3 looks swollen"))
    inputs += [reading(float(second), 13.3, 0.0, -5.0) for second in range(601, 700)]
    inputs.append(command(700.0, Action.REPLACE_BANK, "house"))
    inputs += [reading(float(second), 13.3, 5.0, 15.0) for second in range(701, 800)]
    return inputs


def test_cut_anywhere_gives_the_same_events_and_snapshots() -> None:
    where = site(house=COLD_LFP)
    inputs = story()
    whole = Engine(where)
    states: dict[int, str] = {}
    seen: list[tuple[tuple[Event, ...], object]] = []
    cuts = range(0, len(inputs), 131)
    for number, each in enumerate(inputs):
        if number in cuts:
            states[number] = json.dumps(whole.state(), allow_nan=False)
        events = whole.step(each)
        seen.append((events, whole.glance("house")))
    last = whole.snapshot()
    kinds = {event.kind for events, _ in seen for event in events}
    assert kinds >= set(EventKind) - {EventKind.LEARNED}
    for cut in cuts:
        twin = Engine(where, json.loads(states[cut]))
        for each, expected in zip(inputs[cut:], seen[cut:], strict=True):
            assert (twin.step(each), twin.glance("house")) == expected
        assert twin.snapshot() == last
        assert twin.state() == whole.state()


def test_events_are_numbered_from_one_without_gaps() -> None:
    engine = Engine(site(house=COLD_LFP))
    numbers = [event.number for each in story() for event in engine.step(each)]
    assert numbers == list(range(1, len(numbers) + 1))
    assert engine.snapshot().last_event == len(numbers) > 10


def test_a_state_of_another_version_or_site_is_refused_in_one_line() -> None:
    state = Engine(site()).state()
    with pytest.raises(StateError, match=r"^engine state of version 99, expected \d+: .*$"):
        Engine(site(), {**state, "version": 99})
    with pytest.raises(StateError, match=r"^engine state of another site .*$"):
        Engine(site(house=bank(amp_hours=100.0)), state)
    with pytest.raises(StateError, match=r"^engine state is damaged .*$"):
        Engine(site(), {**state, "memory": {"seconds": 1.0}})
    with pytest.raises(StateError, match=r"^engine state of version None"):
        Engine(site(), {})


def test_new_set_points_keep_what_was_learned_of_the_bank() -> None:
    engine = Engine(site())
    for second in range(100):
        engine.step(reading(float(second), 12.9, 10.0))
    changed = bank(set_points=SetPoints(absorption=14.8, float_=13.6))
    twin = Engine(site(house=changed), json.loads(json.dumps(engine.state())))
    assert twin.glance("house").soc == engine.glance("house").soc
    assert twin.snapshot().banks[0].set_points != engine.snapshot().banks[0].set_points


# Readings.


def test_late_duplicate_and_absurd_readings_change_nothing() -> None:
    engine = Engine(site())
    for second in range(100):
        engine.step(reading(float(second), 12.9, 10.0))
    before = json.dumps(engine.state())
    late = (reading(99.0, 14.0, 50.0), reading(42.0, 8.0, -90.0), reading(math.nan, 12.0, 1.0))
    for each in late:
        assert engine.step(each) == ()
    assert engine.step(Tick(50.0)) == ()
    assert engine.step(Tick(math.inf)) == ()
    assert json.dumps(engine.state()) == before
    glance = engine.glance("house")
    engine.step(reading(100.0, math.nan, math.inf, -273.0))
    after = engine.glance("house")
    assert (after.volts, after.amps, after.soc) == (12.9, 10.0, glance.soc)


def test_nothing_is_invented_before_the_first_reading() -> None:
    view = Engine(site()).snapshot().banks[0]
    assert view.volts == (None, None, "no device gives it")
    assert view.charge.soc.figure is None
    assert view.forecast.to_full.reason == "no reading of volts and amps yet"
    assert {fact.rule for fact in view.warnings} == {"stale", "no-temperature"}
    glance = Engine(site()).glance("house")
    assert glance[1:] == (None,) * 9
    with pytest.raises(KeyError):
        Engine(site()).glance("starter")


def test_a_stale_bank_says_so_and_shows_no_figures() -> None:
    engine = Engine(site())
    for second in range(100):
        engine.step(reading(float(second), 12.9, 10.0))
    engine.step(Tick(140.0))
    view = engine.snapshot().banks[0]
    assert view.volts.figure is None
    assert view.volts.reason == "shunt is silent, last 40 s ago"
    assert engine.glance("house").volts is None
    assert "stale" in {fact.rule for fact in view.warnings}


def test_a_source_with_its_own_figures_gets_its_own_stage() -> None:
    links = (("shunt", 1.0), ("charger", 1.0))
    engine = Engine(site(sources=("shore",), links=links, rated_amps=40.0))
    stages: list[Event] = []
    for second in range(300):
        engine.step(reading(float(second), 13.4 + 0.001 * second, 28.0))
        values = ((SHORE_VOLTS, 13.5 + 0.001 * second), (SHORE_AMPS, 30.0), (SHORE_STAGE, "bulk"))
        events = engine.step(Reading(second + 0.5, "charger", values))
        stages += [event for event in events if event.target == "shore"]
    (view,) = engine.snapshot().sources
    assert view.stage is not None
    assert view.stage.stage == "bulk"
    assert view.share == 0.75
    assert view.reported_stage == "bulk"
    assert stages[-1].name == "bulk"
    assert engine.snapshot().banks[0].load_amps.figure == pytest.approx(2.0)


# Links.


def test_a_device_that_falls_silent_is_told_by_ticks_alone() -> None:
    engine = Engine(site())
    for second in range(30):
        engine.step(reading(float(second)))
    events = [event for second in range(30, 60) for event in engine.step(Tick(float(second)))]
    down = [event for event in events if event.kind is EventKind.LINK]
    assert [(event.name, event.seconds) for event in down] == [("down", 45.0)]
    assert down[0].words == "silent: no reading for 16 s"
    (link,) = engine.snapshot().links
    assert not link.up
    assert link.age_seconds == 30.0
    assert alarm_state(engine, "device-silent") is AlarmState.UNACKNOWLEDGED
    back = engine.step(reading(60.0))
    assert names(list(back), EventKind.LINK) == ["up"]
    assert alarm_state(engine, "device-silent") is AlarmState.RETURNED


def test_a_device_never_heard_is_silent_after_a_while() -> None:
    engine = Engine(site(links=(("shunt", 1.0), ("charger", 2.0))))
    events = [event for second in range(30) for event in engine.step(reading(float(second)))]
    assert [(e.name, e.target) for e in events if e.kind is EventKind.LINK] == [("down", "charger")]


def test_silence_suppresses_what_depends_on_it_but_not_a_high_alarm_that_stands() -> None:
    engine = Engine(site(house=COLD_LFP))
    frozen_charge(engine)
    low = bank("lfp", lowest_soc=0.95, set_points=SetPoints(absorption=14.2))
    other = Engine(site(house=low))
    for second in range(0, 900, 5):
        other.step(reading(float(second), 13.0, -5.0))
    assert alarm_state(other, "below-lowest-soc") is AlarmState.UNACKNOWLEDGED
    for each, name, expected in (
        (engine, "charging-frozen", AlarmState.UNACKNOWLEDGED),
        (other, "below-lowest-soc", AlarmState.SUPPRESSED),
    ):
        each.step(LinkState(1000.0, "shunt", False, "no answer in 3 polls"))
        assert alarm_state(each, name) is expected
        assert alarm_state(each, "device-silent") is AlarmState.UNACKNOWLEDGED
    other.step(reading(1001.0, 13.0, -5.0))
    assert alarm_state(other, "below-lowest-soc") is AlarmState.UNACKNOWLEDGED


def test_another_reason_for_the_same_silence_is_told() -> None:
    """Unplugged, then plugged in where it may not be opened: the newest reason is what helps."""
    engine = Engine(site())
    engine.step(reading(0.0))
    engine.step(LinkState(1.0, "shunt", False, "port gone"))
    engine.step(LinkState(1.5, "shunt", False, "port gone"))
    (told,) = engine.step(LinkState(2.0, "shunt", False, "permission denied"))
    assert (told.kind, told.name, told.words) == ("link", "down", "silent: permission denied")
    (link,) = engine.snapshot().links
    assert (link.up, link.reason, link.since_seconds) == (False, "permission denied", 1.0)
    (alarm,) = engine.snapshot().alarms
    assert alarm.evidence[0].words.startswith("permission denied; no answer")


def test_what_is_wrong_with_a_device_that_answers_is_told() -> None:
    """One figure refused: the link is up, and its remark is not lost on the way to the screen."""
    engine = Engine(site())
    (told,) = engine.step(LinkState(0.0, "shunt", True, "refuses register 9"))
    assert (told.name, told.words) == ("up", "answers: refuses register 9")
    engine.step(reading(0.0))
    (link,) = engine.snapshot().links
    assert (link.up, link.reason) == (True, "refuses register 9")
    assert engine.step(LinkState(1.0, "shunt", True, "")) == ()
    assert engine.snapshot().links[0].reason == ""


def test_a_device_that_speaks_was_heard() -> None:
    engine = Engine(site())
    assert [link.reason for link in engine.snapshot().links] == ["not heard yet"]
    engine.step(reading(0.0))
    assert [link.reason for link in engine.snapshot().links] == [""]


def test_a_late_link_state_is_not_news() -> None:
    engine = Engine(site())
    for second in range(100):
        engine.step(reading(float(second)))
    assert engine.step(LinkState(50.0, "shunt", False, "unplugged")) == ()
    assert engine.snapshot().links[0].up


# Clock.


def test_the_clock_dates_but_never_measures() -> None:
    still, jumpy = Engine(site()), Engine(site())
    told: list[Event] = []
    for second in range(200):
        still.step(reading(float(second), 12.9, 10.0))
        jumpy.step(reading(float(second), 12.9, 10.0))
        if second in (50, 51, 120):
            offset = {50: 1.7e9, 51: 1.7e9 + 0.2, 120: 1.7e9 - 7200.0}[second]
            told += jumpy.step(Tick(float(second), offset))
    clock = [event.words for event in told if event.kind is EventKind.CLOCK]
    assert clock == ["wall clock known", "wall clock set back by 2 h"]
    assert alarm_state(jumpy, "clock-jumped") is AlarmState.UNACKNOWLEDGED
    assert jumpy.snapshot().wall_offset == 1.7e9 - 7200.0
    assert jumpy.glance("house") == still.glance("house")


# Alarms and commands.


def test_a_condition_is_told_with_its_evidence_and_becomes_an_alarm() -> None:
    engine = Engine(site(house=COLD_LFP))
    events = frozen_charge(engine)
    (condition,) = [event for event in events if event.kind is EventKind.CONDITION]
    assert condition.name == "charging-frozen"
    assert condition.priority is Priority.HIGH
    assert condition.evidence[0].words.startswith("40.0 A flows in at -5.0 °C")
    assert 20.0 <= condition.seconds <= 60.0
    (alarm,) = [event for event in events if event.kind is EventKind.ALARM]
    assert alarm.words == "normal -> unacknowledged"
    assert alarm.number == condition.number + 1
    (view,) = engine.snapshot().alarms
    assert view.target == "house"
    assert view.causes
    assert view.first.startswith("Stop charging")


def test_acknowledge_shelve_and_return() -> None:
    engine = Engine(site(house=COLD_LFP))
    frozen_charge(engine)
    key = "house:charging-frozen"
    events = engine.step(command(201.0, Action.ACKNOWLEDGE, key, "seen"))
    assert [event.kind for event in events] == [EventKind.COMMAND, EventKind.ALARM]
    assert events[0].words == "installer: seen"
    assert events[1].words == "unacknowledged -> acknowledged (installer)"
    engine.step(command(202.0, Action.SHELVE, key, "60 heater is on"))
    assert alarm_state(engine, "charging-frozen") is AlarmState.SHELVED
    engine.step(Tick(261.0))
    assert alarm_state(engine, "charging-frozen") is AlarmState.SHELVED
    engine.step(Tick(263.0))
    assert alarm_state(engine, "charging-frozen") is AlarmState.UNACKNOWLEDGED
    engine.step(command(264.0, Action.OUT_OF_SERVICE, key))
    assert alarm_state(engine, "charging-frozen") is AlarmState.OUT_OF_SERVICE
    engine.step(command(265.0, Action.IN_SERVICE, key))
    assert alarm_state(engine, "charging-frozen") is AlarmState.UNACKNOWLEDGED


def test_a_target_alone_means_its_alarms_that_are_not_normal() -> None:
    engine = Engine(site(house=COLD_LFP))
    frozen_charge(engine)
    events = engine.step(command(201.0, Action.ACKNOWLEDGE, ""))
    assert names(list(events), EventKind.ALARM) == ["charging-frozen"]
    events = engine.step(command(202.0, Action.SHELVE, "house", "60"))
    assert names(list(events), EventKind.ALARM) == ["charging-frozen"]


def test_commands_that_name_nothing_are_told_and_do_nothing() -> None:
    engine = Engine(site())
    (event,) = engine.step(command(1.0, Action.ACKNOWLEDGE, "house:no-such"))
    assert event.words == "installer (no alarm is called 'house:no-such')"
    (event,) = engine.step(command(2.0, Action.REPLACE_BANK, "yacht"))
    assert event.words == "installer (no bank is called 'yacht')"
    (event,) = engine.step(command(3.0, Action.METER_READING, "house:bank_volts", "12.62"))
    assert (event.kind, event.name, event.target) == (
        EventKind.COMMAND,
        "meter-reading",
        "house:bank_volts",
    )
    assert event.words == "installer: 12.62"


def test_a_replaced_bank_starts_new() -> None:
    engine = Engine(site())
    fresh = Engine(site())
    for second in range(0, 7200, 5):
        engine.step(reading(float(second), 12.2, -10.0))
    before = engine.glance("house")
    engine.step(command(7201.0, Action.REPLACE_BANK, "house"))
    after = engine.glance("house")
    assert before.soc_sd is not None
    assert after.soc_sd is not None
    assert after.soc_sd > before.soc_sd
    fresh.step(reading(7205.0, 12.9, 0.0))
    engine.step(reading(7205.0, 12.9, 0.0))
    assert engine.glance("house").soc == pytest.approx(fresh.glance("house").soc, abs=0.02)


def test_alarms_come_worst_first() -> None:
    engine = Engine(site(house=COLD_LFP, links=(("shunt", 1.0), ("charger", 1.0))))
    frozen_charge(engine)
    engine.step(Tick(201.0, 1.7e9))
    engine.step(Tick(202.0, 1.8e9))
    order = [(view.name, view.priority) for view in engine.snapshot().alarms]
    assert order == [
        ("charging-frozen", Priority.HIGH),
        ("device-silent", Priority.MEDIUM),
        ("clock-jumped", Priority.LOW),
    ]
    engine.step(command(203.0, Action.SHELVE, "house:charging-frozen", "600"))
    assert engine.snapshot().alarms[-1].name == "charging-frozen"


def test_an_unknown_owner_is_warned_of_by_the_alignment() -> None:
    engine = Engine(site())
    values = ((reading(0.0).values[0][0]._replace(owner="yacht"), 12.0),)
    engine.step(Reading(0.0, "shunt", values))
    assert engine.alignment.unbound == [
        f"shunt gives {Quantity.BANK_VOLTS} for yacht: not configured"
    ]
