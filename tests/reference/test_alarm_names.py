"""Our words for alarms against those of OPC 10000-9, which is designed to IEC 62682 and ISA-18.2.

Each state, each move and each property of an alarm here has its counterpart there, by name. Frozen
by `remake_alarm_names`. What the standard has and we leave out is named too, with the reason.
"""

from __future__ import annotations

import json
from dataclasses import fields
from pathlib import Path

from adapters.reading import Action
from monitor.config_notify import Notify
from monitor.engine.alarms import Trigger
from monitor.engine.condition import Condition
from monitor.engine.snapshot import AlarmState, AlarmView

FROZEN = Path(__file__).parent / "frozen" / "opc_10000_9_names.json"

_ACKNOWLEDGE, _ALARM, _SHELVE, _LIMIT = (
    "AcknowledgeableConditionType",
    "AlarmConditionType",
    "ShelvedStateMachineType",
    "LimitAlarmType",
)

#: Our states as combinations of the state variables there (True, or False with a leading minus).
STATES = {
    AlarmState.NORMAL: ((_ALARM, "-ActiveState"), (_ACKNOWLEDGE, "AckedState")),
    AlarmState.UNACKNOWLEDGED: ((_ALARM, "ActiveState"), (_ACKNOWLEDGE, "-AckedState")),
    AlarmState.ACKNOWLEDGED: ((_ALARM, "ActiveState"), (_ACKNOWLEDGE, "AckedState")),
    AlarmState.RETURNED: ((_ALARM, "-ActiveState"), (_ACKNOWLEDGE, "-AckedState")),
    AlarmState.LATCHED_UNACKNOWLEDGED: (
        (_ALARM, "LatchedState"),
        (_ALARM, "-ActiveState"),
        (_ACKNOWLEDGE, "-AckedState"),
    ),
    AlarmState.LATCHED_ACKNOWLEDGED: (
        (_ALARM, "LatchedState"),
        (_ALARM, "-ActiveState"),
        (_ACKNOWLEDGE, "AckedState"),
    ),
    AlarmState.SHELVED: ((_ALARM, "ShelvingState"),),
    AlarmState.SUPPRESSED: ((_ALARM, "SuppressedState"),),
    AlarmState.OUT_OF_SERVICE: ((_ALARM, "OutOfServiceState"),),
}

#: What moves an alarm, as the methods there. Raise and clear are the process itself.
TRIGGERS = {
    Trigger.RAISE: (_ALARM, "ActiveState"),
    Trigger.CLEAR: (_ALARM, "ActiveState"),
    Trigger.ACKNOWLEDGE: (_ACKNOWLEDGE, "Acknowledge"),
    Trigger.RESET: (_ALARM, "Reset"),
    Trigger.SHELVE: (_SHELVE, "TimedShelve"),
    Trigger.UNSHELVE: (_SHELVE, "Unshelve"),
    Trigger.SUPPRESS: (_ALARM, "Suppress"),
    Trigger.UNSUPPRESS: (_ALARM, "Unsuppress"),
    Trigger.REMOVE: (_ALARM, "RemoveFromService"),
    Trigger.RESTORE: (_ALARM, "PlaceInService"),
}

ACTIONS = {
    Action.ACKNOWLEDGE: (_ACKNOWLEDGE, "Acknowledge"),
    Action.SHELVE: (_SHELVE, "OneShotShelve"),
    Action.UNSHELVE: (_SHELVE, "Unshelve"),
    Action.OUT_OF_SERVICE: (_ALARM, "RemoveFromService"),
    Action.IN_SERVICE: (_ALARM, "PlaceInService"),
    Action.RESET: (_ALARM, "Reset"),
}

#: Fields of ours and the properties they stand for.
PROPERTIES: dict[tuple[type, str], tuple[str, str]] = {
    (Condition, "on_delay"): (_ALARM, "OnDelay"),
    (Condition, "off_delay"): (_ALARM, "OffDelay"),
    (Condition, "latched"): (_ALARM, "LatchedState"),
    (Condition, "deadband"): (_LIMIT, "HighDeadband"),
    (Condition, "limit"): (_LIMIT, "HighLimit"),
    (AlarmView, "first_up"): (_ALARM, "FirstInGroupFlag"),
    (AlarmView, "shelved_until"): (_SHELVE, "UnshelveTime"),
    (AlarmView, "handled"): ("ConditionType", "Comment"),
    (Notify, "repeat_seconds"): (_ALARM, "ReAlarmTime"),
    (Notify, "bell"): (_ALARM, "AudibleEnabled"),
}

#: Left out on purpose.
WITHOUT = {
    "Confirm": "one acknowledgement is enough where one person lives aboard",
    "Disable": "out of service says the same and stays in the list",
    "Silence": "the bell sounds once and does not go on",
    "MaxTimeShelved": "a person aboard may shelve for as long as he says",
}


def names() -> dict[str, set[str]]:
    return {kind: set(parts) for kind, parts in json.loads(FROZEN.read_text())["types"].items()}


def test_every_state_is_one_of_the_standards() -> None:
    known = names()
    assert set(STATES) == set(AlarmState)
    for parts in STATES.values():
        for kind, part in parts:
            assert part.removeprefix("-") in known[kind], (kind, part)


def test_no_two_states_are_the_same_there() -> None:
    assert len(set(STATES.values())) == len(AlarmState)


def test_every_trigger_and_action_is_a_method_of_the_standards() -> None:
    known = names()
    assert set(TRIGGERS) == set(Trigger)
    for kind, part in (*TRIGGERS.values(), *ACTIONS.values()):
        assert part in known[kind], (kind, part)
    assert {"TimedShelved", "OneShotShelved", "Unshelved"} <= known[_SHELVE]


def test_every_property_stands_where_we_say() -> None:
    known = names()
    for (ours, field), (kind, part) in PROPERTIES.items():
        assert field in {each.name for each in fields(ours)}
        assert part in known[kind], (kind, part)


def test_what_we_leave_out_is_there_to_be_left_out() -> None:
    assert set(WITHOUT) <= set().union(*names().values())
