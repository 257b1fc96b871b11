"""What a person who is away is told: notices, and which of them are due.

Pure: snapshots and the time go in, notices come out. An alarm is told once when it is raised, once
when it is over, and again while nobody acknowledges it, where it is of high priority. What was told
is remembered across a restart, so that an alarm that stands is not told anew.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields, replace
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any, Final

from monitor.config_notify import Notify
from monitor.engine.snapshot import AlarmState, AlarmView, Priority, Snapshot
from monitor.words.sentences import past, unheard, unstopped


class Kind(StrEnum):
    """What a notice is about. `over` is the end of an alarm; a heartbeat says that all is well
    with the tool itself, and that silence would mean something; `last` are its last words."""

    ALARM = "alarm"
    AGAIN = "again"
    OVER = "over"
    HEARTBEAT = "heartbeat"
    LAST = "last"
    TEST = "test"


@dataclass(frozen=True, slots=True)
class Notice:
    """One message. `time` is when it happened (Unix seconds), whenever it is sent; `words` is the
    whole of it in one or two sentences."""

    kind: Kind
    time: float
    words: str
    alarm: str = ""
    priority: str = ""
    state: str = ""
    why: tuple[str, ...] = ()
    causes: tuple[str, ...] = ()
    first: str = ""
    caution: str = ""

    def message(self, sent: float, left_out: int = 0) -> dict[str, Any]:
        """The JSON object that the command reads; times as ISO 8601 in UTC."""
        return {
            **asdict(self),
            "time": iso(self.time),
            "sent": iso(sent),
            "late_seconds": max(0, round(sent - self.time)),
            "left_out": left_out,
        }

    def environment(self, sent: float) -> dict[str, str]:
        """The same in a few words for a command that reads no JSON."""
        late = sent - self.time
        words = f"{self.words} (at {iso(self.time)})" if late > LATE_SECONDS else self.words
        return {
            "AMPWRIGHT_KIND": self.kind.value,
            "AMPWRIGHT_PRIORITY": self.priority,
            "AMPWRIGHT_ALARM": self.alarm,
            "AMPWRIGHT_TIME": iso(self.time),
            "AMPWRIGHT_WORDS": words,
        }

    @property
    def rank(self) -> int:
        """What goes out first: high before the rest, what is new before what is said again."""
        if self.kind is Kind.AGAIN:
            return 2
        return 0 if self.priority == "high" else 1

    @classmethod
    def of(cls, kept: dict[str, Any]) -> Notice:
        """From what `asdict` gave; KeyError, TypeError or ValueError where it is none."""
        known = {each.name: kept[each.name] for each in fields(cls) if each.name in kept}
        known["kind"] = Kind(known["kind"])
        known["time"] = float(known["time"])
        for name in ("why", "causes"):
            known[name] = tuple(str(part) for part in known.get(name, ()))
        for name in ("words", "alarm", "priority", "state", "first", "caution"):
            if not isinstance(known.get(name, ""), str):
                raise TypeError(name)
        return cls(**known)


#: Later than this a message says in its words when it happened (our choice).
LATE_SECONDS: Final = 120.0

_TELL: Final = frozenset(
    {AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED, AlarmState.LATCHED_UNACKNOWLEDGED}
)
_ASIDE: Final = frozenset({AlarmState.SHELVED, AlarmState.SUPPRESSED, AlarmState.OUT_OF_SERVICE})


def iso(unix: float) -> str:
    return datetime.fromtimestamp(unix, UTC).isoformat(timespec="seconds")


def notice_of(kind: Kind, alarm: AlarmView, time: float) -> Notice:
    """A notice of an alarm as it is seen now."""
    priority = alarm.priority.name.lower()
    lead = {
        Kind.ALARM: f"{priority.upper()} alarm",
        Kind.AGAIN: f"Nobody has acknowledged: {priority.upper()} alarm",
        Kind.OVER: "Over",
    }[kind]
    words = f"{lead}, {alarm.target}: {unstopped(alarm.words)}."
    if kind is not Kind.OVER:
        if alarm.chattering:
            words += " It comes and goes, and counts as one until it has stayed away for a while."
        if alarm.first:
            words += f" First: {alarm.first}"
    return Notice(
        kind=kind,
        time=time,
        words=words,
        alarm=f"{alarm.target}:{alarm.name}",
        priority=priority,
        state=alarm.state.value,
        why=tuple(fact.words for fact in alarm.evidence if fact.words),
        causes=alarm.causes,
        first=alarm.first,
        caution=alarm.caution,
    )


@dataclass(frozen=True, slots=True)
class Told:
    """What was said of one alarm: when it was raised and last told (Unix seconds)."""

    raised: float
    last: float
    words: str = ""
    priority: str = ""
    over: bool = False


class Chooser:
    """Which notices a snapshot calls for. `told` is its memory, plain and to be kept."""

    def __init__(self, notify: Notify) -> None:
        self._notify = notify
        self._least = Priority[notify.priority.upper()]
        self.told: dict[str, Told] = {}

    def look(self, snapshot: Snapshot, wall: float) -> list[Notice]:
        """The notices due at `wall` (Unix seconds), in the order of the alarms."""
        notices: list[Notice] = []
        seen = set()
        for alarm in snapshot.alarms:
            key = f"{alarm.target}:{alarm.name}"
            if alarm.state in _ASIDE or alarm.priority < self._least:
                continue
            seen.add(key)
            raised = wall - max(0.0, snapshot.seconds - alarm.since_seconds)
            kind = self._kind(key, alarm, wall)
            if kind is not None:
                happened = wall if kind is Kind.AGAIN else raised
                notices.append(notice_of(kind, alarm, happened))
                self._remember(key, alarm, kind, raised, wall)
        for key in [key for key in self.told if key not in seen]:
            told = self.told.pop(key)
            aside = any(f"{a.target}:{a.name}" == key for a in snapshot.alarms)
            if not told.over and not aside:
                words = f"Over, {key.partition(':')[0]}: {told.words}."
                notices.append(
                    Notice(Kind.OVER, wall, words, key, told.priority, AlarmState.NORMAL.value)
                )
        return notices

    def _kind(self, key: str, alarm: AlarmView, wall: float) -> Kind | None:
        told = self.told.get(key)
        returned = alarm.state is AlarmState.RETURNED
        if told is None:
            return Kind.ALARM if alarm.state in _TELL else None
        if returned:
            return None if told.over else Kind.OVER
        if told.over:
            return Kind.ALARM
        repeat = self._notify.repeat_seconds
        waits = alarm.state in _TELL and alarm.priority is Priority.HIGH
        due = repeat > 0.0 and wall - told.last >= repeat
        return Kind.AGAIN if waits and due else None

    def _remember(self, key: str, alarm: AlarmView, kind: Kind, raised: float, wall: float) -> None:
        before = self.told.get(key)
        self.told[key] = Told(
            raised=before.raised if before is not None and kind is Kind.AGAIN else raised,
            last=wall,
            words=unstopped(alarm.words),
            priority=alarm.priority.name.lower(),
            over=kind is Kind.OVER,
        )

    def delivered(self, key: str, wall: float) -> None:
        """A notice of this alarm went out only now: the next repeat counts from here."""
        told = self.told.get(key)
        if told is not None:
            self.told[key] = replace(told, last=wall)

    def forgive(self, seconds: float) -> None:
        """The wall clock was moved by so much: what was told was told at a moved time too."""
        self.told = {
            key: replace(told, raised=told.raised + seconds, last=told.last + seconds)
            for key, told in self.told.items()
        }


def heartbeat(snapshot: Snapshot, wall: float) -> Notice:
    """A sign of life, with what stands and how full the banks are."""
    standing = [alarm for alarm in snapshot.alarms if alarm.state not in _ASIDE]
    banks = [
        f"{bank.id} {'was ' if past(bank) else ''}{100.0 * bank.charge.soc.figure:.0f} %"
        for bank in snapshot.banks
        if bank.charge.soc.figure is not None and not unheard(bank)
    ]
    count = {0: "no alarm", 1: "1 alarm"}.get(len(standing), f"{len(standing)} alarms")
    return Notice(Kind.HEARTBEAT, wall, "; ".join(["Watching", count, *banks]) + ".")


def last_notice(words: str, wall: float) -> Notice:
    """Nobody watches any more: of the highest priority, so that it goes out before all else."""
    return Notice(Kind.LAST, wall, words, priority="high")


def trial_notice(wall: float) -> Notice:
    return Notice(
        Kind.TEST, wall, "This is a test of Ampwright's notification; nothing is the matter."
    )
