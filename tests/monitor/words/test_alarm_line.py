"""What an alarm says on a screen: whole at every width, its state and its priority beside it."""

from __future__ import annotations

import importlib
import itertools
import re
from dataclasses import replace
from datetime import UTC
from typing import Any, Final

import pytest

from monitor.config_limits import ALL_ROWS
from monitor.engine.condition import Condition
from monitor.engine.snapshot import AlarmState, AlarmView, Priority
from monitor.words.alarm_line import alarm_lines
from monitor.words.alarm_states import standing, state_short, state_word, worst
from monitor.words.alarms import WORDED_ROW, alarm_order, alarm_rows, alarm_told
from monitor.words.conditions import LONGEST, condition_name
from monitor.words.figures import Clock
from monitor.words.sentences import PRIORITY_MARK, PRIORITY_WORD, unstopped
from tests.monitor.dashboard.fake_feed import HOT, LOW, NORMAL, OFFSET
from tests.monitor.dashboard.long_language import long_language

CLOCK = Clock(OFFSET, UTC)
#: From a terminal of 30 columns to one of 100, without the edges; a row of the list loses the sign
#: before it too.
WIDTHS: Final = range(28, 101)
ROW_WIDTHS: Final = range(26, 99)
LONG_OWNER: Final = "the flooded bank under the bunk at the rear"
LISTED: Final = [state for state in AlarmState if state is not AlarmState.NORMAL]
ASKING: Final = [state for state in LISTED if standing((replace(HOT, state=state),))]
LATCHED: Final = (AlarmState.LATCHED_UNACKNOWLEDGED, AlarmState.LATCHED_ACKNOWLEDGED)
#: All that each state may be called.
CALLED: Final = {
    AlarmState.UNACKNOWLEDGED: {"new"},
    AlarmState.ACKNOWLEDGED: {"seen"},
    AlarmState.RETURNED: {"over", "over, unseen", "over, not yet seen"},
    AlarmState.LATCHED_UNACKNOWLEDGED: {"new, kept", "new, kept until reset"},
    AlarmState.LATCHED_ACKNOWLEDGED: {"seen, kept", "seen, kept until reset"},
    AlarmState.SHELVED: {"shelved"},
    AlarmState.SUPPRESSED: {"suppressed", "suppressed by design"},
    AlarmState.OUT_OF_SERVICE: {"out", "out of service"},
}


def alarm(row: Condition[Any], state: AlarmState, owner: str = "house") -> AlarmView:
    told = replace(HOT, name=row.name, words=row.words, priority=row.priority)
    return replace(told, state=state, target=owner)


class Read:
    """What is told of an alarm, taken apart again; fails on what is not one of the forms."""

    def __init__(self, shown: AlarmView) -> None:
        mark = PRIORITY_MARK[shown.priority]
        owner = rf"(?:{re.escape(shown.target)}: )?"
        said = "|".join(map(re.escape, (unstopped(shown.words), condition_name(shown.name))))
        said, first = rf"(?P<said>{said})", r"(?:, first)?"
        count = r"(?:  ?\+(?P<count>\d+)(?: more)?)?"
        word = rf"(?:{PRIORITY_WORD[shown.priority]} +)?(?:(?P<before>over[^:]*): )?"
        state = r"(?P<state>[a-z ,]+?)"
        self._forms = (
            re.compile(rf"{mark} +{word}{owner}{said}(?: \({state}{first}\))?{count}"),
            re.compile(rf"{mark:<3} {said}\n    {owner}{state}{first}{count}"),
        )

    def __call__(self, lines: tuple[str, ...]) -> tuple[str, str, int]:
        """What was said, the state and the count."""
        found = self._forms[len(lines) - 1].fullmatch("\n".join(lines))
        assert found, lines
        told = found.groupdict()
        return told["said"], told["state"] or told["before"], int(told["count"] or 0)


def test_no_two_states_are_called_the_same() -> None:
    assert set(CALLED) == set(LISTED)
    assert sum(map(len, CALLED.values())) == len(set[str]().union(*CALLED.values()))
    for state, names in CALLED.items():
        shown = replace(HOT, state=state)
        assert {state_word(shown), state_short(shown)} <= names


@pytest.mark.parametrize(("owner", "others"), [("house", 0), ("house", 1), (LONG_OWNER, 12)])
def test_the_line_keeps_the_condition_its_state_its_mark_and_the_count(
    owner: str, others: int
) -> None:
    assert len(ASKING) == 5
    over = replace(LOW, state=AlarmState.RETURNED)
    more = tuple(replace(over, name=f"other-{place}") for place in range(others))
    seen = 0
    for row in ALL_ROWS.values():
        for state in ASKING:
            shown = alarm(row, state, owner)
            snapshot, read = replace(NORMAL, alarms=(shown, *more)), Read(shown)
            for width in WIDTHS:
                lines = alarm_lines(snapshot, width)
                assert max(map(len, lines)) <= width, lines
                said, called, count = read(lines)
                assert called in CALLED[state], lines
                assert count == others, lines
                seen += 1
                if width >= LONGEST + 16:
                    assert len(lines) == 1 or others > 9 or "kept" in called, lines
                whole = f"!!! MEDIUM {owner}: {shown.words} ({state_word(shown)})  +12 more"
                if len(whole) <= width:
                    assert said == unstopped(shown.words), lines
    assert seen == len(ALL_ROWS) * len(ASKING) * len(WIDTHS)


@pytest.mark.parametrize(("owner", "first"), [("house", False), (LONG_OWNER, True)])
def test_a_row_of_the_list_keeps_the_condition_its_state_and_its_mark(
    owner: str, first: bool
) -> None:
    for row in ALL_ROWS.values():
        for state in LISTED:
            shown = replace(alarm(row, state, owner), first_up=first)
            read = Read(shown)
            for width in ROW_WIDTHS:
                lines = alarm_rows(shown, width)
                assert max(map(len, lines)) <= width, lines
                said, called, _ = read(lines)
                assert called in CALLED[state], lines
                # The columns of mark and word stand below each other in all rows of a list.
                word = PRIORITY_WORD[row.priority] in lines[0][4:]
                assert word is (width >= WORDED_ROW), lines
                if len(f"!!! MEDIUM {owner}: {row.words} ({state_word(shown)}, first)") <= width:
                    assert said == unstopped(row.words), lines


def test_in_a_longer_language_the_condition_stays_whole_too() -> None:
    over = replace(LOW, state=AlarmState.RETURNED)
    with long_language():
        line = importlib.import_module("monitor.words.alarm_line")
        names = importlib.import_module("monitor.words.conditions")
        assert len(names.condition_name("bank-hot")) > LONGEST
        for row, state in itertools.product(ALL_ROWS.values(), ASKING):
            shown = alarm(row, state)
            if state in LATCHED and not row.latched:
                continue  # the others are never kept until reset
            for width in WIDTHS[2:]:  # two columns more for words so much longer
                lines = line.alarm_lines(replace(NORMAL, alarms=(shown, over)), width)
                assert max(map(len, lines)) <= width, lines
                text = "".join("".join(lines).split())  # a row may end after a hyphen
                names_of = (names.condition_name(shown.name), unstopped(shown.words))
                assert any("".join(each.split()) in text for each in names_of), lines
                assert "+1" in text, lines


@pytest.mark.parametrize("width", range(20, 28))
def test_narrower_than_promised_the_mark_the_state_and_the_count_stay(width: int) -> None:
    for row in ALL_ROWS.values():
        lines = alarm_lines(replace(NORMAL, alarms=(alarm(row, ASKING[0], LONG_OWNER), LOW)), width)
        assert len(lines) <= 2, lines
        assert max(map(len, lines)) <= width, lines
        assert lines[0].startswith(PRIORITY_MARK[row.priority]), lines
        assert "new" in lines[-1], lines
        assert lines[-1].endswith(("+1", "+1 more")), lines


def test_the_three_sizes_of_a_screen() -> None:
    """As they were before: `over, unseen: The bank is...`."""
    high = alarm(ALL_ROWS["charge-current-high"], AlarmState.RETURNED)
    over = replace(NORMAL, alarms=(high, replace(LOW, state=AlarmState.RETURNED)))
    assert alarm_lines(over, 62) == ("!! over, unseen: house: Charge current high  +1 more",)
    assert alarm_lines(over, 38) == ("!! over: house: Charge current high +1",)
    assert alarm_lines(over, 28) == ("!!  Charge current high", "    house: over +1")


def test_the_worst_that_still_stands_is_told_and_the_shelved_are_counted() -> None:
    line = alarm_lines(replace(NORMAL, alarms=(LOW, HOT)), 80)
    assert line == ("!!! HIGH house: bank above 50 °C and still charging (new)  +1 more",)
    shelved = replace(HOT, state=AlarmState.SHELVED)
    assert alarm_lines(replace(NORMAL, alarms=(shelved,)), 80) == ("no alarm (1 shelved)",)


def test_alarms_that_are_over_give_way_and_do_not_colour() -> None:
    over = replace(HOT, state=AlarmState.RETURNED)
    assert worst((over,)) is Priority.NONE
    assert standing((over, LOW)) == [LOW, over]
    assert worst((over, LOW)) is Priority.LOW


def test_alarms_set_aside_come_last() -> None:
    shelved = replace(HOT, name="shelved", state=AlarmState.SHELVED)
    order = [alarm.name for alarm in alarm_order((shelved, LOW, HOT))]
    assert order == ["bank-hot", "halves-apart", "shelved"]


def test_an_alarm_in_full_puts_the_caution_before_the_hands() -> None:
    told = alarm_told(HOT, NORMAL.seconds, CLOCK)
    assert told[0] == "house: bank above 50 °C and still charging"
    assert "12:22 (10 min)" in told[1]
    starts = [line.split(":")[0] for line in told]
    assert starts.index("Caution") < starts.index("First") < starts.index("May be")
