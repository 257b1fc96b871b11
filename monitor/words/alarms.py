"""Alarms in words: the list, and one alarm told in full."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from monitor.engine.chatter import SUGGESTION
from monitor.engine.snapshot import AlarmState, AlarmView
from monitor.words.alarm_line import owner_of, two_rows
from monitor.words.alarm_states import QUIET_STATES, standing, state_short, state_word, unseen
from monitor.words.conditions import condition_name
from monitor.words.figures import Clock
from monitor.words.fitting import first_fitting
from monitor.words.sentences import (
    NO_ALARM,
    PRIORITY_MARK,
    PRIORITY_WORD,
    as_of,
    sentence,
    since,
    unstopped,
)

#: From so many columns on a row of the list has the word for the priority beside its mark: with
#: the longest name and the longest state both fit.
WORDED_ROW: Final = 56

#: What a person last did, in the past tense.
_DONE: Final = {
    "acknowledge": "seen",
    "shelve": "shelved",
    "unshelve": "shelving ended",
    "out-of-service": "taken out of service",
    "in-service": "brought back into service",
    "reset": "reset",
}

HEADING: Final = "Alarms"
NEW: Final = "new"

#: What is asked before an alarm goes out of sight, and the answers.
SHELVE_FOR: Final = "Shelve for:"
FOR: Final = {"hour": "hour", "hours": "hours", "days": "days", "clear": "until it clears"}
OUT_OF_SERVICE_ASKED: Final = "Out of service until brought back?"
YES: Final = "yes"
NO: Final = "no"


def noted(note: str) -> str:
    """The note that goes with what is done next."""
    return f"Note: {note}" if note else ""


def alarm_order(alarms: Sequence[AlarmView]) -> list[AlarmView]:
    """Those that ask something first, then those set aside."""
    aside = [alarm for alarm in alarms if alarm.state in QUIET_STATES]
    return standing(alarms) + [alarm for alarm in aside if alarm.state is not AlarmState.NORMAL]


def alarm_heading(alarms: Sequence[AlarmView], width: int = 80) -> str:
    asking = standing(alarms)
    if not asking:
        return f"{HEADING}: {NO_ALARM}"
    new = sum(unseen(alarm) for alarm in asking)
    lead = f"{HEADING}: {len(asking)}"
    if not new:
        return f"{lead}, all seen"
    return first_fitting(width, f"{lead}, {new} not yet seen", f"{lead}, {NEW}: {new}")


def alarm_heading_then(alarms: Sequence[AlarmView], width: int, moment: str) -> str:
    """`As of 12:32: alarms: 2, all seen`, once nobody tells of them any more."""
    lead = as_of(moment)
    lead, heading = f"{lead[:1].upper()}{lead[1:]}", alarm_heading(alarms, width)
    bare = heading.removeprefix(f"{HEADING}: ")
    if not standing(alarms):
        return lead + bare
    return first_fitting(width, f"{lead}{heading[:1].lower()}{heading[1:]}", f"{lead}{bare}")


def alarm_rows(alarm: AlarmView, width: int) -> tuple[str, ...]:
    """`!!! HIGH   house: The bank is too hot to be charged (new)`: its sentence where that fits,
    else its name, in two rows where one is too narrow for that and its state."""
    mark, owner = f"{PRIORITY_MARK[alarm.priority]:<3} ", owner_of(alarm)
    lead = f"{mark}{PRIORITY_WORD[alarm.priority]:<6} " if width >= WORDED_ROW else mark
    words, name, first = unstopped(alarm.words), condition_name(alarm.name), ", first"
    state, short = state_word(alarm), state_short(alarm)
    if alarm.first_up:
        state += first
    for row in (
        f"{lead}{owner}{words} ({state})",
        f"{lead}{owner}{name} ({state})",
        f"{lead}{owner}{name} ({short})",
        f"{lead}{name} ({state})",
        f"{lead}{name} ({short})",
    ):
        if len(row) <= width:
            return (row,)
    return two_rows(alarm, width)


def alarm_told(alarm: AlarmView, now: float, clock: Clock) -> list[str]:
    """Everything about one alarm, a paragraph an item; the caution comes before the hands."""
    lines = [f"{alarm.target}: {alarm.words}".strip()]
    lines.append(sentence(f"{state_word(alarm)}, {since(alarm.since_seconds, now, clock)}"))
    lines += [sentence(words) for words in _circumstances(alarm, now, clock)]
    lines += [sentence(f"why: {fact.words}") for fact in alarm.evidence if fact.words]
    if alarm.caution:
        lines.append(sentence(f"caution: {alarm.caution}"))
    if alarm.first:
        lines.append(sentence(f"first: {alarm.first}"))
    lines += [f"May be: {cause}" for cause in alarm.causes]
    lines.append(f'Called "{alarm.name}" in the configuration.')
    return lines


def _circumstances(alarm: AlarmView, now: float, clock: Clock) -> Iterator[str]:
    """How it stands among the others, and what a person last did about it."""
    if alarm.explained_by:
        yield f"follows from {alarm.explained_by}, and is raised only if it outlasts it"
    if alarm.first_up:
        yield "came first of those that stand: look here first"
    if alarm.chattering:
        yield f"comes and goes; {SUGGESTION}"
    if alarm.shelved_until is not None:
        yield f"shelved until {clock.at(alarm.shelved_until, now) or 'its time is over'}"
    if alarm.handled is not None:
        done = _DONE.get(alarm.handled.action, alarm.handled.action)
        moment = clock.at(alarm.handled.seconds, now)
        at = f" at {moment}" if moment else ""
        note = f": {alarm.handled.note}" if alarm.handled.note else ""
        yield f"{done} by {alarm.handled.who}{at}{note}"
