"""All alarms of one target: judged together, moved together, told in the journal."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any, ClassVar, Generic, TypeVar

from adapters.reading import Quantity
from monitor.engine.alarms import Alarm, Trigger
from monitor.engine.condition import Cadence, Condition
from monitor.engine.grouping import CAUSES, EXPLAINS, Group
from monitor.engine.journal import MOVED, Journal
from monitor.engine.snapshot import AlarmState, EventKind, Priority
from monitor.engine.state import Json, dump, restore

W = TypeVar("W")


class Panel(Generic[W]):
    """The alarms of one bank, source, device or site; `watch` is what their figures come from."""

    KEPT: ClassVar[tuple[str, ...]] = ("memory",)

    def __init__(
        self, target: str, watch: W, table: Sequence[Condition[W]], journal: Journal
    ) -> None:
        self.target = target
        self.watch = watch
        self.alarms = [Alarm(condition, target) for condition in table]
        self.fast = [a for a in self.alarms if a.condition.cadence is Cadence.FAST]
        self.slow = [a for a in self.alarms if a.condition.cadence is Cadence.SLOW]
        self._journal = journal
        #: With whom it shares causes; None for what stands alone.
        self.group: Group | None = None

    def judge(self, alarms: Iterable[Alarm[W]], seconds: float, elapsed: float) -> None:
        """Judge these alarms now, `elapsed` judged seconds after the last time."""
        watch = self.watch
        for alarm in alarms:
            quiet = not (alarm.present or alarm.pending)
            if quiet and alarm.explained_until is None:  # the quick way past what is in order
                figure = alarm.figure_of(watch)
                if figure is None:
                    continue
                if alarm.below:
                    if figure >= alarm.limit_of(watch):
                        continue
                elif figure <= alarm.limit_of(watch):
                    continue
            trigger = alarm.judge(watch, elapsed)
            if trigger is not None:
                self._tell_condition(alarm, trigger, seconds)
                if trigger is Trigger.RAISE:
                    self._look_for_cause(alarm, seconds)
                self.pull(alarm, trigger, seconds)
            if alarm.explained_until is not None:
                self.release(alarm, seconds)

    def _tell_condition(self, alarm: Alarm[W], trigger: Trigger, seconds: float) -> None:
        condition = alarm.condition
        begins = trigger is Trigger.RAISE
        self._journal.note(
            seconds,
            EventKind.CONDITION,
            condition.name,
            self.target,
            condition.words if begins else f"No longer: {condition.words}",
            alarm.facts if begins else (),
            condition.priority if begins else Priority.NONE,
        )

    def _look_for_cause(self, alarm: Alarm[W], seconds: float) -> None:
        """Where another alarm explains this one already, it is not raised at all."""
        if self.group is None or alarm.condition.name not in CAUSES or alarm.asks:
            return
        cause = self.group.cause_of(alarm)
        if cause is not None and not alarm.explained_by:
            self.explain(alarm, cause.key, seconds)

    def pull(self, alarm: Alarm[W], trigger: Trigger, seconds: float, why: str = "") -> None:
        """Move an alarm and tell it; a normal one that is only suppressed is not worth telling."""
        before = alarm.state
        listed, asked = alarm.listed, alarm.asks
        moved = alarm.pull(trigger, seconds)
        if moved:
            if alarm.state == AlarmState.NORMAL:
                alarm.handled = []
            if listed or alarm.listed:
                self._tell_move(alarm, before, trigger, seconds, why)
            if alarm.state == AlarmState.UNACKNOWLEDGED:
                self._tell_chatter(alarm, seconds)
            if self.group is not None:
                self.group.mark(alarm, asked)
        design = trigger is Trigger.SUPPRESS or trigger is Trigger.UNSUPPRESS
        if self.group is not None and alarm.condition.name in EXPLAINS and not design:
            self.group.settle(seconds)

    def _tell_move(
        self, alarm: Alarm[W], before: str, trigger: Trigger, seconds: float, why: str
    ) -> None:
        reason = f" ({why})" if why else ""
        self._journal.note(
            seconds,
            EventKind.ALARM,
            alarm.condition.name,
            self.target,
            f"{before}{MOVED}{alarm.state}{reason}",
            alarm.facts if trigger is Trigger.RAISE else (),
            alarm.condition.priority,
        )

    def _tell_chatter(self, alarm: Alarm[W], seconds: float) -> None:
        words = alarm.note_raised(seconds)
        if words:
            condition = alarm.condition
            self._journal.note(
                seconds, EventKind.ALARM, condition.name, self.target, words, (), condition.priority
            )

    def shelve(self, alarm: Alarm[W], seconds: float, for_seconds: float | None, why: str) -> None:
        """Set an alarm aside for a time, or, with None, until its condition clears."""
        self.pull(alarm, Trigger.SHELVE, seconds, why)
        alarm.shelve_for(seconds, for_seconds)

    def suppress(self, lost: Callable[[Quantity], bool], seconds: float) -> None:
        """Suppress by design what cannot be judged because its devices are silent; else undo it.

        A high alarm that stands is left standing: that its device went silent is no good news.
        """
        for alarm in self.alarms:
            silent = any(lost(quantity) for quantity in alarm.condition.inputs)
            high = alarm.condition.priority is Priority.HIGH
            alarm.silent = silent and not (high and alarm.stands_behind and not alarm.suppressed)
            self._design(alarm, "its device is silent" if alarm.silent else "", seconds)

    def explain(self, alarm: Alarm[W], cause: str, seconds: float) -> None:
        """Suppress what only follows from a cause ("house:shunt-reversed"); "" ends that."""
        why = f"explained by {cause}" if cause else f"no longer explained by {alarm.explained_by}"
        alarm.explained_by = cause
        alarm.explained_until = None
        self._design(alarm, why, seconds)

    def release(self, alarm: Alarm[W], seconds: float) -> None:
        """The cause is gone: raise what outlasts it, forget what went away with it."""
        until = alarm.explained_until
        if until is not None and (seconds >= until or not alarm.stands_behind):
            self.explain(alarm, "", seconds)

    def _design(self, alarm: Alarm[W], why: str, seconds: float) -> None:
        """Let the state follow what the design asks: either reason suppresses."""
        asked = alarm.silent or bool(alarm.explained_by)
        if asked != alarm.suppressed:
            self.pull(alarm, Trigger.SUPPRESS if asked else Trigger.UNSUPPRESS, seconds, why)

    def end_shelving(self, seconds: float) -> None:
        """Bring back what was shelved for a time that is over."""
        for alarm in self.alarms:
            if alarm.shelving_over(seconds):
                self.pull(alarm, Trigger.UNSHELVE, seconds, "its time is over")

    @property
    def shelved(self) -> bool:
        return any(alarm.state == AlarmState.SHELVED for alarm in self.alarms)

    @property
    def memory(self) -> Json:
        """Every alarm by its condition's name: a table that grows or shrinks keeps what it knew."""
        return {alarm.condition.name: dump(alarm) for alarm in self.alarms}

    @memory.setter
    def memory(self, memory: dict[str, Any]) -> None:
        for alarm in self.alarms:
            kept = memory.get(alarm.condition.name)
            if kept is not None:
                # What an older program did not keep begins as it does in a fresh alarm.
                restore(alarm, {**dump(alarm), **kept})
