"""What becomes of an alarm, in words: new, seen, over, set aside; which of several comes first."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from monitor.engine.snapshot import AlarmState, AlarmView, Priority

#: Alarm states that ask nothing of anybody now.
QUIET_STATES: Final = frozenset(
    {
        AlarmState.NORMAL,
        AlarmState.SHELVED,
        AlarmState.SUPPRESSED,
        AlarmState.OUT_OF_SERVICE,
    }
)
#: Alarm states that wait for a person to say "seen".
UNSEEN_STATES: Final = frozenset(
    {
        AlarmState.UNACKNOWLEDGED,
        AlarmState.RETURNED,
        AlarmState.LATCHED_UNACKNOWLEDGED,
    }
)
_STATE_WORDS: Final[dict[AlarmState, str]] = {
    AlarmState.UNACKNOWLEDGED: "new",
    AlarmState.ACKNOWLEDGED: "seen",
    AlarmState.RETURNED: "over, not yet seen",
    AlarmState.LATCHED_UNACKNOWLEDGED: "new, kept until reset",
    AlarmState.LATCHED_ACKNOWLEDGED: "seen, kept until reset",
    AlarmState.SHELVED: "shelved",
    AlarmState.SUPPRESSED: "suppressed by design",
    AlarmState.OUT_OF_SERVICE: "out of service",
    AlarmState.NORMAL: "normal",
}
#: Of those in more words than one the shortest that is still true.
_STATE_SHORT: Final[dict[AlarmState, str]] = {
    AlarmState.RETURNED: "over",
    AlarmState.LATCHED_UNACKNOWLEDGED: "new, kept",
    AlarmState.LATCHED_ACKNOWLEDGED: "seen, kept",
    AlarmState.SUPPRESSED: "suppressed",
    AlarmState.OUT_OF_SERVICE: "out",
}


def standing(alarms: Iterable[AlarmView]) -> list[AlarmView]:
    """Alarms that ask something of somebody: those still true first, the worst of them first,
    then the not yet seen before the seen."""
    asking = [alarm for alarm in alarms if alarm.state not in QUIET_STATES]
    return sorted(asking, key=lambda a: (over(a), -a.priority, a.state not in UNSEEN_STATES))


def worst(alarms: Iterable[AlarmView]) -> Priority:
    """The worst priority of what is true now; an alarm that is over counts no more."""
    return max((a.priority for a in standing(alarms) if not over(a)), default=Priority.NONE)


def state_word(alarm: AlarmView) -> str:
    return _STATE_WORDS[alarm.state]


def state_short(alarm: AlarmView) -> str:
    return _STATE_SHORT.get(alarm.state) or state_word(alarm)


def unseen(alarm: AlarmView) -> bool:
    return alarm.state in UNSEEN_STATES


def rings(alarm: AlarmView) -> bool:
    """Worth a sound: true now, not yet seen, and not heard again and again already."""
    return unseen(alarm) and not over(alarm) and not alarm.chattering


def over(alarm: AlarmView) -> bool:
    """The condition is gone; it only waits to be seen."""
    return alarm.state is AlarmState.RETURNED
