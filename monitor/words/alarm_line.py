"""The alarm line: the worst alarm in as many words as there is room for, and how many more stand.

Its sentence where that fits, else the condition's name, whole at any width from 30 columns on: in
two rows where one is too narrow for it, its state and the count. What goes first is whose it is
and the word for the priority; the mark of the priority, the state and the count stay.
"""

from __future__ import annotations

from collections.abc import Iterator

from monitor.engine.snapshot import AlarmState, AlarmView, Snapshot
from monitor.words.alarm_states import over, standing, state_short, state_word
from monitor.words.conditions import condition_name
from monitor.words.fitting import cut, first_fitting, wrapped
from monitor.words.sentences import (
    NO_ALARM,
    PRIORITY_MARK,
    PRIORITY_WORD,
    unstopped,
)


def alarm_lines(snapshot: Snapshot, width: int) -> tuple[str, ...]:
    """A row of at most `width`, or two."""
    alarms = standing(snapshot.alarms)
    if not alarms:
        shelved = sum(alarm.state is AlarmState.SHELVED for alarm in snapshot.alarms)
        return (cut(NO_ALARM + (f" ({shelved} shelved)" if shelved else ""), width),)
    worst, more = alarms[0], len(alarms) - 1
    for row in _rows(worst, f"  +{more} more" if more else "", f" +{more}" if more else ""):
        if len(row) <= width:
            return (row,)
    return two_rows(worst, width, more)


def two_rows(alarm: AlarmView, width: int, more: int = 0) -> tuple[str, ...]:
    """`!!! Bank too hot to charge` above `    house: new  +1 more`."""
    top = f"{PRIORITY_MARK[alarm.priority]:<3} {condition_name(alarm.name)}"
    whole, brief = (f"  +{more} more", f" +{more}") if more else ("", "")
    state, short = state_word(alarm), state_short(alarm)
    if len(top) > width:
        # Narrower than any that is promised, or a longer language: the name takes both rows.
        tail = f", {short}{brief}"
        first, *rest = wrapped(top, width, "")
        return first, cut(" ".join(rest), width - len(tail)) + tail
    below = (
        f"{owner_of(alarm)}{state}{whole}",
        f"{owner_of(alarm)}{short}{brief}",
        f"{state}{brief}",
        f"{short}{brief}",
    )
    return top, "    " + first_fitting(width - 4, *below)


def owner_of(alarm: AlarmView) -> str:
    """`house: `, before what is told of it."""
    return f"{alarm.target}: " if alarm.target else ""


def _rows(alarm: AlarmView, whole: str, brief: str) -> Iterator[str]:
    """In ever fewer words, with the count of the others in full or in brief. What is over says so
    before it says what it was."""
    mark = PRIORITY_MARK[alarm.priority]
    words, name, owner = unstopped(alarm.words), condition_name(alarm.name), owner_of(alarm)
    if over(alarm):
        lead, bare = f"{mark} over, unseen: ", f"{mark} {state_short(alarm)}: "
        state = short = ""
    else:
        lead, bare = f"{mark} {PRIORITY_WORD[alarm.priority]} ", f"{mark} "
        state, short = f" ({state_word(alarm)})", f" ({state_short(alarm)})"
    yield f"{lead}{owner}{words}{state}{whole}"
    yield f"{lead}{owner}{words}{state}{brief}"
    yield f"{lead}{owner}{name}{state}{whole}"
    yield f"{lead}{owner}{name}{short}{brief}"
    yield f"{bare}{owner}{name}{short}{brief}"
    yield f"{bare}{name}{short}{brief}"
