"""All alarms of one target: judged together, moved together, told in the journal."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any, ClassVar, Generic, TypeVar

from adapters.reading import Quantity
from monitor.engine.alarms import Alarm, Trigger
from monitor.engine.condition import Cadence, Condition
from monitor.engine.journal import Journal
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

    def judge(self, alarms: Iterable[Alarm[W]], seconds: float, elapsed: float) -> None:
        """Judge these alarms now, `elapsed` judged seconds after the last time."""
        watch = self.watch
        for alarm in alarms:
            if not (alarm.present or alarm.pending):  # the quick way past what is in order
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
                self.pull(alarm, trigger, seconds)

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

    def pull(self, alarm: Alarm[W], trigger: Trigger, seconds: float, why: str = "") -> None:
        """Move an alarm and tell it; a normal one that is only suppressed is not worth telling."""
        before = alarm.state
        listed = alarm.listed
        moved = alarm.pull(trigger, seconds)
        if not moved or not (listed or alarm.listed):
            return
        reason = f" ({why})" if why else ""
        self._journal.note(
            seconds,
            EventKind.ALARM,
            alarm.condition.name,
            self.target,
            f"{before} -> {alarm.state}{reason}",
            alarm.facts if trigger is Trigger.RAISE else (),
            alarm.condition.priority,
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
            inputs = alarm.condition.inputs
            silent = any(lost(quantity) for quantity in inputs)
            if silent == alarm.suppressed:
                continue
            stands = alarm.present or alarm.latched
            if silent and stands and alarm.condition.priority is Priority.HIGH:
                continue
            trigger = Trigger.SUPPRESS if silent else Trigger.UNSUPPRESS
            self.pull(alarm, trigger, seconds, "its device is silent" if silent else "")

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
        """Every alarm by its condition's name: a table that grows keeps what it knew."""
        return {alarm.condition.name: dump(alarm) for alarm in self.alarms}

    @memory.setter
    def memory(self, memory: dict[str, Any]) -> None:
        for alarm in self.alarms:
            kept = memory.get(alarm.condition.name)
            if kept is not None:
                restore(alarm, kept)
