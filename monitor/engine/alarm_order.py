"""The order of alarms: what stands before what waits, what waits before what was set aside."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from monitor.engine.snapshot import AlarmState, AlarmView

_ORDER: Final = {
    AlarmState.UNACKNOWLEDGED: 0,
    AlarmState.LATCHED_UNACKNOWLEDGED: 1,
    AlarmState.ACKNOWLEDGED: 2,
    AlarmState.LATCHED_ACKNOWLEDGED: 3,
    AlarmState.RETURNED: 4,
    AlarmState.SHELVED: 5,
    AlarmState.SUPPRESSED: 6,
    AlarmState.OUT_OF_SERVICE: 7,
    AlarmState.NORMAL: 8,
}
#: From here on a person or the design has set the alarm aside.
_ASIDE: Final = _ORDER[AlarmState.SHELVED]


def worst_first(alarms: Iterable[AlarmView]) -> tuple[AlarmView, ...]:
    """Standing before set aside, then by priority, state and age."""
    return tuple(sorted(alarms, key=_rank))


def _rank(alarm: AlarmView) -> tuple[bool, int, int, float, str, str]:
    order = _ORDER[alarm.state]
    return (
        order >= _ASIDE,
        -alarm.priority,
        order,
        alarm.since_seconds,
        alarm.target,
        alarm.name,
    )
