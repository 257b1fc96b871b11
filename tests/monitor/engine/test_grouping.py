"""One cause, one alarm; the first one marked; what chatters told once; all of it kept."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from adapters.reading import Action, Command, Tick
from monitor.bank import Bank, Site
from monitor.chemistries import CHEMISTRIES
from monitor.engine import conditions
from monitor.engine.alarms import Alarm
from monitor.engine.chatter import CHATTER_SECONDS, CHATTER_TIMES, HOLD_SECONDS
from monitor.engine.commands import carry_out
from monitor.engine.condition import Condition
from monitor.engine.engine import Engine
from monitor.engine.grouping import CAUSES, EXPLAINS, GRACE_SECONDS, Group
from monitor.engine.journal import Journal
from monitor.engine.panel import Panel
from monitor.engine.snapshot import AlarmState, Event, EventKind, Priority

ROWS: dict[str, Condition[Any]] = {
    row.name: row for row in (*conditions.BANK, *conditions.SOURCE, *conditions.DEVICE)
}
#: Whose rows they are on the test's board, where it is not the bank's.
TARGETS = {
    **{row.name: "shore" for row in conditions.SOURCE},
    **{row.name: "shunt" for row in conditions.DEVICE},
}
#: What hurts by heat or frost, whatever caused it.
HEAT = {
    "bank-hot",
    "bank-warm",
    "bank-near-hot-limit",
    "warming-in-float",
    "thermal-runaway",
    "bank-cold",
    "charging-frozen",
    "electrolyte-may-freeze",
}

Figures = dict[str, float]


class Board:
    """A bank, two sources and a device whose conditions a test switches on and off by name."""

    def __init__(self, rows: dict[str, Priority] | None = None) -> None:
        self.figures: Figures = {}
        self.journal = Journal()
        self.events: list[Event] = []
        given = rows or {name: row.priority for name, row in ROWS.items()}
        bank, source, device = (
            [_row(n, p) for n, p in given.items() if TARGETS.get(n, "house") == target]
            for target in ("house", "shore", "shunt")
        )
        self.panels = [
            Panel("house", (self.figures, "house"), bank, self.journal),
            Panel("shore", (self.figures, "shore"), source, self.journal),
            Panel("sun", (self.figures, "sun"), source, self.journal),
        ]
        Group("house", self.panels)
        own = Panel("shunt", (self.figures, "shunt"), device, self.journal)
        Group("shunt", [own])
        self.panels = [*self.panels, own]

    def alarm(self, key: str) -> Alarm[tuple[Figures, str]]:
        return next(a for panel in self.panels for a in panel.alarms if a.key == key)

    def state(self, key: str) -> str:
        return self.alarm(key).state

    def judge(self, seconds: float, elapsed: float = 1.0) -> None:
        for panel in self.panels:
            panel.judge(panel.alarms, seconds, elapsed)
        self.events += self.journal.take()

    def on(self, key: str, seconds: float = 0.0) -> None:
        self.figures[key] = 1.0
        self.judge(seconds)

    def off(self, key: str, seconds: float = 0.0) -> None:
        self.figures[key] = 0.0
        self.judge(seconds)

    def tell(self, action: Action, target: str, note: str = "", seconds: float = 0.0) -> None:
        command = Command(seconds, "ann", action, target, note)
        carry_out(command, self.panels, [], {}, self.journal)
        self.events += self.journal.take()

    def told(self, key: str) -> list[str]:
        target, name = key.split(":")
        return [
            event.words
            for event in self.events
            if event.kind is EventKind.ALARM and (event.target, event.name) == (target, name)
        ]


def _row(name: str, priority: Priority) -> Condition[tuple[Figures, str]]:
    return Condition(
        name=name,
        words=name,
        causes=(),
        first="",
        priority=priority,
        figure=lambda watch: watch[0].get(f"{watch[1]}:{name}", 0.0),
        limit=lambda _: 0.5,
        says="",
        source="this test",
        inputs=(),
        latched=name in ROWS and ROWS[name].latched,
    )


# The table.


def test_every_name_in_the_table_is_a_condition() -> None:
    assert set(EXPLAINS) <= set(ROWS)
    assert set(CAUSES) <= set(ROWS)


def test_names_of_bank_and_sources_differ() -> None:
    tables = (conditions.BANK, conditions.SOURCE, conditions.DEVICE)
    assert len(ROWS) == sum(map(len, tables))


@pytest.mark.parametrize("cause", EXPLAINS)
def test_no_cause_hides_what_is_worse_than_itself(cause: str) -> None:
    for name in EXPLAINS[cause]:
        assert ROWS[name].priority <= ROWS[cause].priority, (cause, name)


def test_heat_is_explained_by_heat_alone() -> None:
    for name in HEAT & set(CAUSES):
        assert set(CAUSES[name]) <= HEAT


def test_nothing_explains_itself_round_a_circle() -> None:
    def reached(name: str, path: tuple[str, ...]) -> None:
        assert name not in path, (*path, name)
        for follows in EXPLAINS.get(name, ()):
            reached(follows, (*path, name))

    for cause in EXPLAINS:
        reached(cause, ())


def test_a_cause_and_what_it_explains_can_be_of_one_bank() -> None:
    """A row that can never apply is a slip: their chemistries must meet."""
    for cause, names in EXPLAINS.items():
        for name in names:
            assert ROWS[cause].chemistries & ROWS[name].chemistries, (cause, name)


@pytest.mark.parametrize(
    ("cause", "name"), [(cause, name) for cause in EXPLAINS for name in sorted(EXPLAINS[cause])]
)
def test_every_row_suppresses_by_design_and_gives_back(cause: str, name: str) -> None:
    board = Board({cause: ROWS[cause].priority, name: ROWS[name].priority})
    key = f"{TARGETS.get(name, 'house')}:{name}"
    by = f"{TARGETS.get(cause, 'house')}:{cause}"
    board.on(by)
    board.on(key)
    assert board.state(key) == AlarmState.SUPPRESSED
    assert board.told(key) == [f"normal -> suppressed by design (explained by {by})"]
    view = board.alarm(key).view(0.0)
    assert view.explained_by == by

    board.off(by)
    board.tell(Action.RESET, by)  # in case it latches
    assert board.state(key) == AlarmState.SUPPRESSED
    board.judge(GRACE_SECONDS)
    assert board.state(key) == AlarmState.UNACKNOWLEDGED
    assert board.told(key)[-1].endswith(f"(no longer explained by {by})")
    board.off(key)
    board.tell(Action.ACKNOWLEDGE, key)
    assert board.state(key) == AlarmState.NORMAL


# What the rules say.


def test_what_only_follows_is_suppressed_when_its_cause_comes_later() -> None:
    board = Board()
    board.on("house:below-lowest-soc")
    board.on("house:shunt-reversed", 60.0)
    assert board.state("house:below-lowest-soc") == AlarmState.SUPPRESSED
    assert board.state("house:shunt-reversed") == AlarmState.UNACKNOWLEDGED


def test_a_high_alarm_that_people_see_stays_when_its_cause_comes_later() -> None:
    board = Board()
    board.on("house:bank-hot")
    board.on("house:thermal-runaway", 60.0)
    assert board.state("house:bank-hot") == AlarmState.UNACKNOWLEDGED


def test_what_explained_follows_does_not_surface_when_it_clears_first() -> None:
    board = Board()
    board.on("house:shunt-reversed")
    board.on("house:below-lowest-soc", 1.0)
    board.off("house:below-lowest-soc", 2.0)
    assert not board.alarm("house:below-lowest-soc").listed
    board.off("house:shunt-reversed", 3.0)
    assert board.state("house:below-lowest-soc") == AlarmState.NORMAL


def test_what_goes_away_soon_after_its_cause_is_never_raised() -> None:
    board = Board()
    late = board.alarm("house:below-lowest-soc")
    late.condition = replace(late.condition, off_delay=300.0)
    board.on("house:shunt-reversed")
    board.on("house:below-lowest-soc", 1.0)
    board.off("house:shunt-reversed", 100.0)
    board.judge(399.0)
    assert late.state == AlarmState.SUPPRESSED
    late.condition = replace(late.condition, off_delay=0.0)
    board.off("house:below-lowest-soc", 400.0)
    assert late.state == AlarmState.NORMAL
    assert not any("-> unacknowledged" in words for words in board.told(late.key))


def test_what_outlasts_its_cause_by_more_than_its_own_delay_is_raised() -> None:
    board = Board()
    late = board.alarm("house:below-lowest-soc")
    late.condition = replace(late.condition, off_delay=300.0)
    board.on("house:shunt-reversed")
    board.on("house:below-lowest-soc", 1.0)
    board.off("house:shunt-reversed", 100.0)
    board.on("house:shunt-reversed", 200.0)  # back again: the time starts anew
    board.off("house:shunt-reversed", 300.0)
    board.judge(300.0 + 300.0 + GRACE_SECONDS - 1.0)
    assert late.state == AlarmState.SUPPRESSED
    board.judge(300.0 + 300.0 + GRACE_SECONDS)
    assert late.state == AlarmState.UNACKNOWLEDGED


def test_a_source_explains_its_own_and_the_banks_but_not_another_sources() -> None:
    board = Board()
    board.on("shore:joint-resistance")
    for key in ("shore:lead-drop-high", "sun:lead-drop-high", "house:hold-below-set-point"):
        board.on(key)
    assert board.state("shore:lead-drop-high") == AlarmState.SUPPRESSED
    assert board.state("house:hold-below-set-point") == AlarmState.SUPPRESSED
    assert board.state("sun:lead-drop-high") == AlarmState.UNACKNOWLEDGED


def test_a_cause_out_of_service_explains_nothing_and_a_shelved_one_still_does() -> None:
    board = Board()
    board.on("house:shunt-reversed")
    board.on("house:below-lowest-soc")
    board.tell(Action.SHELVE, "house:shunt-reversed", "3600 sign fixed tomorrow")
    assert board.state("house:below-lowest-soc") == AlarmState.SUPPRESSED
    board.tell(Action.OUT_OF_SERVICE, "house:shunt-reversed", "being rewired")
    board.judge(GRACE_SECONDS)
    assert board.state("house:below-lowest-soc") == AlarmState.UNACKNOWLEDGED
    board.tell(Action.IN_SERVICE, "house:shunt-reversed", seconds=70.0)
    assert board.state("house:below-lowest-soc") == AlarmState.SUPPRESSED


def test_two_reasons_to_suppress_end_only_together() -> None:
    board = Board()
    rows = board.panels[0].alarms
    soc = board.alarm("house:below-lowest-soc")
    soc.condition = replace(soc.condition, inputs=(conditions.BANK[0].inputs[0],))
    board.on("house:shunt-reversed")
    board.on("house:below-lowest-soc")
    board.panels[0].suppress(lambda _: True, 1.0)
    board.off("house:shunt-reversed", 2.0)
    board.judge(70.0)
    assert not soc.explained_by
    assert soc.state == AlarmState.SUPPRESSED
    board.panels[0].suppress(lambda _: False, 80.0)
    assert soc.state == AlarmState.UNACKNOWLEDGED
    assert soc in rows


def test_a_chain_of_causes_leaves_one_alarm() -> None:
    board = Board()
    for name in ("thermal-runaway", "bank-hot", "bank-warm"):
        board.on(f"house:{name}")
    asking = [a.condition.name for panel in board.panels for a in panel.alarms if a.asks]
    assert asking == ["thermal-runaway"]


# First-up.


def test_the_first_of_several_is_marked_and_alone_it_is_not() -> None:
    board = Board()
    board.on("shore:joint-resistance")
    assert not board.alarm("shore:joint-resistance").view(0.0).first_up
    board.on("house:under-voltage", 60.0)
    board.on("house:bank-hot", 120.0)
    marked = [
        a.key for panel in board.panels for a in panel.alarms if a.listed and a.view(0.0).first_up
    ]
    assert marked == ["shore:joint-resistance"]


def test_the_mark_is_not_inherited_and_ends_when_nobody_stands_beside_it() -> None:
    board = Board()
    for number, key in enumerate(("house:temperature-missing", "house:bank-hot")):
        board.on(key, 60.0 * number)
    first = board.alarm("house:temperature-missing")
    assert first.view(60.0).first_up
    board.tell(Action.ACKNOWLEDGE, "house:bank-hot", seconds=70.0)
    board.off("house:bank-hot", 80.0)
    assert not first.view(80.0).first_up, "alone again"
    board.on("house:bank-hot", 90.0)
    assert first.view(90.0).first_up
    board.tell(Action.ACKNOWLEDGE, "house:temperature-missing", seconds=100.0)
    board.off("house:temperature-missing", 110.0)
    board.on("shore:joint-resistance", 120.0)
    assert not any(a.view(120.0).first_up for p in board.panels for a in p.alarms)


def test_the_mark_moves_on_once_the_first_is_normal_or_set_aside() -> None:
    board = Board()
    board.on("house:under-voltage")
    board.tell(Action.SHELVE, "house:under-voltage")
    board.on("house:bank-hot", 60.0)
    board.on("shore:joint-resistance", 60.0)
    assert board.alarm("house:bank-hot").view(60.0).first_up
    assert not board.alarm("house:under-voltage").view(60.0).first_up


# Chattering.


def chattering(board: Board, key: str, begin: float) -> float:
    """Let it chatter every ten minutes for eight times; when it was last there."""
    for number in range(CHATTER_TIMES + 3):
        board.on(key, begin + 600.0 * number)
        board.off(key, begin + 600.0 * number + 300.0)
    return begin + 600.0 * (CHATTER_TIMES + 2)


def test_chattering_is_told_once_marked_and_held_until_it_stays_away() -> None:
    board = Board()
    key = "house:bank-hot"
    last = chattering(board, key, 0.0)
    told = [words for words in board.told(key) if words.startswith("chattering")]
    assert told == [
        "chattering: raised 5 times in 40 min; look for a loose contact or something that "
        "switches at the limit; shelve it meanwhile"
    ]
    raised = [words for words in board.told(key) if words.endswith("-> unacknowledged")]
    assert len(raised) == CHATTER_TIMES, "it stands from the fifth time on"
    assert board.alarm(key).view(last).chattering
    board.judge(last + 900.0, elapsed=HOLD_SECONDS - 10.0)
    assert board.state(key) == AlarmState.UNACKNOWLEDGED
    board.judge(last + 1900.0, elapsed=10.0)
    assert board.state(key) == AlarmState.RETURNED
    assert not board.alarm(key).view(last + CHATTER_SECONDS).chattering


def test_after_a_lull_another_chatter_is_told_again() -> None:
    board = Board()
    key = "house:bank-hot"
    last = chattering(board, key, 0.0)
    board.judge(last + 4000.0, elapsed=HOLD_SECONDS)
    chattering(board, key, last + 9000.0)
    assert sum(words.startswith("chattering") for words in board.told(key)) == 2
    raised = [words for words in board.told(key) if words.endswith("-> unacknowledged")]
    assert len(raised) == 2 * CHATTER_TIMES


def test_as_many_raisings_over_a_longer_time_are_no_chatter() -> None:
    board = Board()
    for number in range(3 * CHATTER_TIMES):
        seconds = number * CHATTER_SECONDS / (CHATTER_TIMES - 1)
        board.on("house:bank-hot", seconds)
        board.off("house:bank-hot", seconds + 1.0)
    assert not any(words.startswith("chatter") for words in board.told("house:bank-hot"))


def test_what_is_shelved_does_not_chatter_at_anybody() -> None:
    board = Board()
    board.tell(Action.SHELVE, "house:bank-hot", "1e6")
    for number in range(2 * CHATTER_TIMES):
        board.on("house:bank-hot", 60.0 * number)
        board.off("house:bank-hot", 60.0 * number + 30.0)
    assert board.told("house:bank-hot") == ["normal -> shelved (ann)"]


# By whom and when.


def test_who_did_what_and_why_is_in_the_journal_and_with_the_alarm_until_normal() -> None:
    board = Board()
    key = "house:under-voltage"
    board.on(key, 10.0)
    board.tell(Action.ACKNOWLEDGE, key, "fridge off", 20.0)
    handled = board.alarm(key).view(20.0).handled
    assert handled is not None
    assert (handled.seconds, handled.who, handled.action) == (20.0, "ann", "acknowledge")
    assert handled.note == "fridge off"
    (command,) = [event for event in board.events if event.kind is EventKind.COMMAND]
    assert (command.seconds, command.words) == (20.0, "ann: fridge off")
    assert board.told(key)[-1] == "unacknowledged -> acknowledged (ann)"

    board.tell(Action.SHELVE, key, "3600 until the charger comes", 30.0)
    view = board.alarm(key).view(30.0)
    assert view.handled is not None
    assert view.handled.note == "until the charger comes"
    assert view.shelved_until == 3630.0
    board.tell(Action.UNSHELVE, key, "", 40.0)
    board.tell(Action.ACKNOWLEDGE, key, "", 41.0)
    board.off(key, 50.0)
    assert board.alarm(key).handled == []


# Restart.


def lived(board: Board) -> None:
    """Every state there is, reached by what happens and what people do."""
    board.on("house:shunt-reversed", 0.0)
    board.on("house:below-lowest-soc", 1.0)
    board.on("house:shorted-cell", 2.0)
    board.off("house:shorted-cell", 3.0)
    board.on("house:bank-hot", 4.0)
    board.tell(Action.ACKNOWLEDGE, "house:bank-hot", "fan on", 5.0)
    board.tell(Action.SHELVE, "shore:joint-resistance", "900 known", 6.0)
    board.tell(Action.OUT_OF_SERVICE, "sun:source-at-odds", "removed", 7.0)
    board.on("house:over-voltage", 8.0)
    board.off("house:over-voltage", 9.0)


def test_a_restart_keeps_every_alarm_as_it_was() -> None:
    board, again = Board(), Board()
    lived(board)
    kept = json.loads(json.dumps([panel.memory for panel in board.panels]))
    for panel, memory in zip(again.panels, kept, strict=True):
        panel.memory = memory
    states = {a.key: a.view(9.0) for panel in board.panels for a in panel.alarms if a.listed}
    after = {a.key: a.view(9.0) for panel in again.panels for a in panel.alarms if a.listed}
    assert states == after
    assert {view.state for view in after.values()} >= {
        AlarmState.UNACKNOWLEDGED,
        AlarmState.ACKNOWLEDGED,
        AlarmState.RETURNED,
        AlarmState.LATCHED_UNACKNOWLEDGED,
        AlarmState.SHELVED,
        AlarmState.SUPPRESSED,
        AlarmState.OUT_OF_SERVICE,
    }
    for each in (board, again):
        each.figures = {**board.figures}
        for panel in each.panels:
            panel.watch = (each.figures, panel.target)
        each.off("house:shunt-reversed", 20.0)
        each.judge(20.0 + GRACE_SECONDS)
        for panel in each.panels:
            panel.end_shelving(1000.0)
    assert board.state("house:below-lowest-soc") == AlarmState.UNACKNOWLEDGED
    assert board.state("shore:joint-resistance") == AlarmState.NORMAL
    for panel, twin in zip(board.panels, again.panels, strict=True):
        assert panel.memory == twin.memory


def test_rows_that_came_or_went_and_an_older_memory_keep_the_rest() -> None:
    board = Board()
    lived(board)
    kept = json.loads(json.dumps(board.panels[0].memory))
    for alarm in kept.values():  # as a program that knew of neither would have kept them
        for name in ("explained_by", "silent", "first_up", "followed", "raised", "chattering"):
            del alarm[name]
    fewer = {n: row.priority for n, row in ROWS.items() if n != "shunt-reversed"}
    other = Board({**fewer, "brand-new": Priority.LOW})
    other.panels[0].memory = kept
    assert other.state("house:bank-hot") == AlarmState.ACKNOWLEDGED
    assert other.state("house:shorted-cell") == AlarmState.LATCHED_UNACKNOWLEDGED
    assert other.state("house:brand-new") == AlarmState.NORMAL
    # Its cause is gone from the table: at the next look of the design it shows again.
    other.panels[0].suppress(lambda _: False, 10.0)
    assert other.state("house:below-lowest-soc") == AlarmState.UNACKNOWLEDGED


def test_an_engine_restarted_with_another_table_goes_on_with_what_it_knew(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    bank = Bank("house", CHEMISTRIES["agm"], 12, 200.0)
    site = Site((bank,), (), ())
    engine = Engine(site)
    for seconds, action, name, note in (
        (1.0, Action.OUT_OF_SERVICE, "bank-hot", "sensor is off"),
        (2.0, Action.SHELVE, "under-voltage", "900"),
        (3.0, Action.SHELVE, "over-voltage", ""),
    ):
        engine.step(Command(seconds, "ann", action, f"house:{name}", note))
    state = json.loads(json.dumps(engine.state()))
    fewer = tuple(row for row in conditions.BANK if row.name != "over-voltage")
    fresh = replace(fewer[0], name="brand-new")
    monkeypatch.setattr(conditions, "BANK", (*fewer, fresh))
    again = Engine(site, state)
    views = {view.name: view for view in again.snapshot().alarms}
    assert {name: view.state for name, view in views.items()} == {
        "bank-hot": AlarmState.OUT_OF_SERVICE,
        "under-voltage": AlarmState.SHELVED,
    }
    handled = views["bank-hot"].handled
    assert handled is not None
    assert (handled.who, handled.note) == ("ann", "sensor is off")
    assert views["under-voltage"].shelved_until == 902.0
    (event,) = again.step(Tick(903.0))
    assert event.words == "shelved -> normal (its time is over)"


def test_what_a_vanished_cause_explained_shows_again() -> None:
    board = Board()
    lived(board)
    fewer = {n: row.priority for n, row in ROWS.items() if n != "shunt-reversed"}
    other = Board(fewer)
    other.panels[0].memory = json.loads(json.dumps(board.panels[0].memory))
    assert other.panels[0].group is not None
    other.panels[0].group.forget_vanished(10.0)
    assert other.state("house:below-lowest-soc") == AlarmState.UNACKNOWLEDGED
