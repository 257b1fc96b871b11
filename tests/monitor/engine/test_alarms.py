"""The alarm states: every state with every trigger, against a matrix written out by hand."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.engine.alarms import LATCHING_MOVES, MOVES, Alarm, Trigger
from monitor.engine.condition import Condition
from monitor.engine.snapshot import AlarmState, Priority
from monitor.engine.state import dump, restore

#: Rows: states. Columns: RAISE CLEAR ACK RESET SHELVE UNSHELVE SUPPRESS UNSUPPRESS REMOVE RESTORE.
#: N normal, U unacknowledged, A acknowledged, R returned unacknowledged, LU and LA latched,
#: SH shelved, SU suppressed, OS out of service; a dot: nothing happens.
PLAIN = """
N   U  .  .  .  SH .  SU .  OS .
U   .  R  A  .  SH .  SU .  OS .
A   .  N  .  .  SH .  SU .  OS .
R   U  .  N  .  SH .  SU .  OS .
LU  U  .  LA R  SH .  SU .  OS .
LA  U  .  .  N  SH .  SU .  OS .
SH  .  .  .  .  .  N  .  .  OS .
SU  .  .  .  .  SH .  .  N  OS .
OS  .  .  .  .  .  .  .  .  .  N
"""
LATCHING = PLAIN.replace("U   .  R  A", "U   .  LU A").replace("A   .  N  .", "A   .  LA .")
NAMES = {
    "N": AlarmState.NORMAL,
    "U": AlarmState.UNACKNOWLEDGED,
    "A": AlarmState.ACKNOWLEDGED,
    "R": AlarmState.RETURNED,
    "LU": AlarmState.LATCHED_UNACKNOWLEDGED,
    "LA": AlarmState.LATCHED_ACKNOWLEDGED,
    "SH": AlarmState.SHELVED,
    "SU": AlarmState.SUPPRESSED,
    "OS": AlarmState.OUT_OF_SERVICE,
}
COLUMNS = (
    Trigger.RAISE,
    Trigger.CLEAR,
    Trigger.ACKNOWLEDGE,
    Trigger.RESET,
    Trigger.SHELVE,
    Trigger.UNSHELVE,
    Trigger.SUPPRESS,
    Trigger.UNSUPPRESS,
    Trigger.REMOVE,
    Trigger.RESTORE,
)


class Gauge:
    """Something to watch: a figure that a test sets."""

    def __init__(self, figure: float | None = 0.0) -> None:
        self.figure = figure


def condition(latched: bool = False, **changes: float) -> Condition[Gauge]:
    return Condition(
        name="too-high",
        words="Too high.",
        causes=("a test",),
        first="Nothing.",
        priority=Priority.HIGH,
        figure=lambda gauge: gauge.figure,
        limit=lambda _: 10.0,
        says="{figure:.1f} above {limit:.1f}",
        source="this test",
        inputs=(),
        latched=latched,
        **changes,  # type: ignore[arg-type]
    )


def matrix(text: str) -> dict[tuple[AlarmState, Trigger], AlarmState]:
    expected = {}
    for line in text.split("\n"):
        if line.strip():
            row, *cells = line.split()
            for trigger, cell in zip(COLUMNS, cells, strict=True):
                expected[NAMES[row], trigger] = NAMES[row if cell == "." else cell]
    return expected


@pytest.mark.parametrize(("moves", "text"), [(MOVES, PLAIN), (LATCHING_MOVES, LATCHING)])
def test_every_state_with_every_trigger(
    moves: dict[tuple[AlarmState, Trigger], AlarmState], text: str
) -> None:
    expected = matrix(text)
    assert len(expected) == len(AlarmState) * len(Trigger) == 90
    for (state, trigger), after in expected.items():
        assert moves.get((state, trigger), state) == after, (state, trigger)


@pytest.mark.parametrize("latched", [False, True])
def test_an_alarm_moves_as_the_table_says(latched: bool) -> None:
    expected = matrix(LATCHING if latched else PLAIN)
    for (state, trigger), after in expected.items():
        alarm = Alarm(condition(latched), "house")
        alarm.state = str(state)
        moved = alarm.pull(trigger, 5.0)
        assert alarm.state == after, (state, trigger)
        assert moved == (state != after)
        assert alarm.since == (5.0 if moved else 0.0)


def raised(latched: bool = False) -> Alarm[Gauge]:
    alarm = Alarm(condition(latched), "house")
    trigger = alarm.judge(Gauge(11.0), 1.0)
    assert trigger is Trigger.RAISE
    alarm.pull(trigger, 0.0)
    return alarm


@pytest.mark.parametrize(
    ("aside", "back"),
    [
        (Trigger.SHELVE, Trigger.UNSHELVE),
        (Trigger.SUPPRESS, Trigger.UNSUPPRESS),
        (Trigger.REMOVE, Trigger.RESTORE),
    ],
)
def test_what_stands_behind_shows_again_when_it_comes_back(aside: Trigger, back: Trigger) -> None:
    alarm = raised()
    alarm.pull(Trigger.ACKNOWLEDGE, 1.0)
    alarm.pull(aside, 2.0)
    alarm.pull(back, 3.0)
    assert alarm.state == AlarmState.UNACKNOWLEDGED

    alarm.pull(aside, 4.0)
    cleared = alarm.judge(Gauge(0.0), 1.0)
    assert cleared is Trigger.CLEAR
    alarm.pull(cleared, 5.0)
    alarm.pull(back, 6.0)
    assert alarm.state == AlarmState.NORMAL


def test_a_latch_survives_being_set_aside_until_reset() -> None:
    alarm = raised(latched=True)
    alarm.pull(Trigger.SHELVE, 1.0)
    assert alarm.judge(Gauge(0.0), 1.0) is Trigger.CLEAR
    alarm.pull(Trigger.CLEAR, 2.0)
    alarm.pull(Trigger.UNSHELVE, 3.0)
    assert alarm.state == AlarmState.LATCHED_UNACKNOWLEDGED
    alarm.pull(Trigger.ACKNOWLEDGE, 4.0)
    alarm.pull(Trigger.RESET, 5.0)
    assert alarm.state == AlarmState.NORMAL
    alarm.pull(Trigger.SHELVE, 6.0)
    alarm.pull(Trigger.UNSHELVE, 7.0)
    assert alarm.state == AlarmState.NORMAL


def test_suppressed_behind_shelved_comes_to_the_front_when_unshelved() -> None:
    alarm = raised()
    alarm.pull(Trigger.SHELVE, 1.0)
    alarm.pull(Trigger.SUPPRESS, 2.0)
    assert alarm.state == AlarmState.SHELVED
    alarm.pull(Trigger.UNSHELVE, 3.0)
    assert alarm.state == AlarmState.SUPPRESSED
    alarm.pull(Trigger.UNSUPPRESS, 4.0)
    assert alarm.state == AlarmState.UNACKNOWLEDGED


def test_one_shot_shelving_ends_when_the_condition_clears() -> None:
    alarm = raised()
    alarm.pull(Trigger.SHELVE, 1.0)
    alarm.shelve_for(1.0, None)
    assert not alarm.shelving_over(1e9)
    alarm.judge(Gauge(0.0), 1.0)
    alarm.pull(Trigger.CLEAR, 2.0)
    assert alarm.state == AlarmState.NORMAL
    assert alarm.shelved_until is None


def test_timed_shelving_is_over_at_its_time_and_not_before() -> None:
    alarm = raised()
    alarm.pull(Trigger.SHELVE, 100.0)
    alarm.shelve_for(100.0, 60.0)
    assert not alarm.shelving_over(159.9)
    assert alarm.shelving_over(160.0)


def test_on_delay_counts_judged_seconds_and_starts_again_after_a_dip() -> None:
    alarm = Alarm(condition(on_delay=30.0), "house")
    assert alarm.judge(Gauge(11.0), 10.0) is None
    assert alarm.judge(Gauge(11.0), 10.0) is None
    assert alarm.judge(Gauge(9.0), 10.0) is None
    assert alarm.judge(Gauge(11.0), 10.0) is None
    assert alarm.judge(Gauge(None), 10.0) is None  # not judged: the clock stands
    assert alarm.judge(Gauge(11.0), 10.0) is None
    assert alarm.judge(Gauge(11.0), 10.0) is Trigger.RAISE


def test_the_deadband_is_on_the_return_side() -> None:
    alarm = Alarm(condition(deadband=2.0), "house")
    assert alarm.judge(Gauge(10.0), 1.0) is None  # at the limit is not beyond it
    assert alarm.judge(Gauge(10.1), 1.0) is Trigger.RAISE
    assert alarm.judge(Gauge(8.1), 1.0) is None
    assert alarm.judge(Gauge(8.0), 1.0) is Trigger.CLEAR
    assert alarm.judge(Gauge(9.9), 1.0) is None


def test_off_delay_holds_the_condition() -> None:
    alarm = Alarm(condition(off_delay=20.0), "house")
    alarm.judge(Gauge(11.0), 1.0)
    assert alarm.judge(Gauge(1.0), 10.0) is None
    assert alarm.judge(Gauge(1.0), 10.0) is Trigger.CLEAR


def test_evidence_keeps_what_was_seen_while_it_was_there() -> None:
    alarm = Alarm(condition(), "house")
    alarm.judge(Gauge(11.0), 1.0)
    alarm.judge(Gauge(12.5), 1.0)
    alarm.judge(Gauge(1.0), 1.0)
    (fact,) = alarm.facts
    assert fact.words == "12.5 above 10.0 (limit: this test)"
    assert fact.figures == (("figure", 12.5), ("limit", 10.0))


@given(
    st.lists(
        st.one_of(
            st.sampled_from(Trigger),
            st.floats(0.0, 20.0, allow_nan=False),
        ),
        max_size=30,
    ),
    st.booleans(),
    st.integers(0, 30),
)
def test_an_alarm_restored_anywhere_goes_on_alike(
    steps: list[Trigger | float], latched: bool, cut: int
) -> None:
    """Whatever happens to it, a copy made from its JSON at any point ends in the same state."""
    shape = condition(latched, on_delay=3.0, off_delay=2.0, deadband=1.0)
    alarm = Alarm(shape, "house")
    twin = alarm
    for number, step in enumerate(steps):
        if number == cut:
            twin = Alarm(shape, "house")
            restore(twin, json.loads(json.dumps(dump(alarm))))
        for each in {id(alarm): alarm, id(twin): twin}.values():
            if isinstance(step, Trigger):
                each.pull(step, float(number))
            else:
                trigger = each.judge(Gauge(step), 1.5)
                if trigger is not None:
                    each.pull(trigger, float(number))
    assert dump(twin) == dump(alarm)


@given(st.lists(st.sampled_from(Trigger), max_size=40), st.booleans())
def test_nothing_that_is_present_hides_in_normal(triggers: list[Trigger], latched: bool) -> None:
    """A condition that is there is never shown as normal, whatever people and design do."""
    alarm = raised(latched)
    for trigger in triggers:
        if trigger not in (Trigger.RAISE, Trigger.CLEAR):
            alarm.pull(trigger, 0.0)
            assert alarm.state != AlarmState.NORMAL
            assert alarm.listed
