"""One cause, one alarm: which condition explains which, and which alarm came first.

A fault seldom comes alone: a shunt wired backwards makes the state of charge fall below its limit,
an open charge side leaves a source standing above the bank. `EXPLAINS` says what follows from
what. While a cause stands, what it explains is suppressed by design: listed as such with its
cause, told in the journal, asking nothing of anybody. When the cause is over, whatever still
stands of them is raised after all.

Three rules keep this from hiding harm (ours):

* nothing is explained by a cause of lower priority: what is told is never milder than what is not;
* an alarm of high priority that was raised before its cause is left standing;
* heat and frost are explained by nothing but more of the same: they hurt whatever caused them.

The first alarm of a group (a bank and its sources) is marked while others stand beside it, as the
first-out marks of ISA-18.1 annunciators and the `FirstInGroupFlag` of OPC 10000-9 do: what came
first is where to look first.

That a device went silent suppresses what only it measures; see `Panel.suppress`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, Protocol

from monitor.engine.alarms import ASIDE, Alarm
from monitor.engine.snapshot import AlarmState, Priority

#: Cause, and what follows from it on the same bank or source.
EXPLAINS: Final[dict[str, frozenset[str]]] = {
    # A current of the wrong sign makes everything counted or judged from it worthless.
    "shunt-reversed": frozenset(
        {
            "below-lowest-soc",
            "not-full-for-days",
            "charge-current-high",
            "absorption-never-ends",
            "discharge-cut-off",
            "source-cut-off",
            "source-over-rating",
        }
    ),
    # A bank one cell short can neither be held at a set-point nor carry its load.
    "shorted-cell": frozenset(
        {
            "under-voltage",
            "hold-below-set-point",
            "absorption-never-ends",
            "charge-current-high",
            "not-full-for-days",
        }
    ),
    # Protection that has opened parts the bank from its sources, or its loads from the bank.
    "charge-side-open": frozenset(
        {"source-cut-off", "hold-below-set-point", "not-full-for-days", "source-at-odds"}
    ),
    "discharge-side-open": frozenset({"discharge-cut-off", "under-voltage"}),
    "discharge-cut-off": frozenset({"under-voltage"}),
    # A current that runs away is why the bank is hot, and not the other way round.
    "thermal-runaway": frozenset({"bank-hot", "bank-warm", "absorption-never-ends"}),
    "bank-hot": frozenset({"bank-warm"}),
    # Voltage beyond every limit is beyond the set-point too.
    "over-voltage": frozenset({"hold-above-set-point"}),
    "equalize-not-allowed": frozenset({"over-voltage", "hold-above-set-point"}),
    # Lost in the leads: the posts never see what the source holds.
    "joint-resistance": frozenset({"hold-below-set-point", "source-at-odds"}),
    # Compensated set-points mean nothing with a temperature that is none.
    "temperature-stuck": frozenset({"hold-above-set-point", "hold-below-set-point"}),
}

#: Causes by what they explain.
CAUSES: Final[dict[str, tuple[str, ...]]] = {
    name: tuple(cause for cause, names in EXPLAINS.items() if name in names)
    for name in sorted({name for names in EXPLAINS.values() for name in names})
}


class Grouped(Protocol):
    """A panel, as a group knows it."""

    alarms: list[Alarm[Any]]
    group: Group | None

    def explain(self, alarm: Alarm[Any], cause: str, seconds: float) -> None: ...


class Group:
    """The panels of one bank and its sources. It carries nothing: all memory is in the alarms."""

    def __init__(self, bank: str, panels: Sequence[Grouped]) -> None:
        self._bank = bank
        self._panels = panels
        self._by_name: dict[str, list[Alarm[Any]]] = {}
        for panel in panels:
            panel.group = self
            for alarm in panel.alarms:
                self._by_name.setdefault(alarm.condition.name, []).append(alarm)

    def cause_of(self, alarm: Alarm[Any]) -> Alarm[Any] | None:
        """What explains this alarm now, the first in the table's order; None where nothing does.

        A cause that a person took out of service explains nothing: it is not to be believed.
        """
        for name in CAUSES.get(alarm.condition.name, ()):
            for cause in self._by_name.get(name, ()):
                near = self._bank in (cause.target, alarm.target) or cause.target == alarm.target
                if near and cause.stands_behind and cause.state != AlarmState.OUT_OF_SERVICE:
                    return cause
        return None

    def settle(self, seconds: float) -> None:
        """A cause came or went: suppress by design what it explains, bring back what is left."""
        for panel in self._panels:
            for alarm in panel.alarms:
                if alarm.condition.name not in CAUSES:
                    continue
                cause = self.cause_of(alarm)
                if cause is None:
                    if alarm.explained_by:
                        panel.explain(alarm, "", seconds)
                elif alarm.stands_behind and not alarm.explained_by and not _stays(alarm):
                    panel.explain(alarm, cause.key, seconds)

    def forget_vanished(self, seconds: float) -> None:
        """After a restart with another table: what a row explained that is gone shows again."""
        for panel in self._panels:
            for alarm in panel.alarms:
                if alarm.explained_by and self.cause_of(alarm) is None:
                    panel.explain(alarm, "", seconds)

    def mark(self, alarm: Alarm[Any], asked: bool) -> None:
        """After an alarm moved, having `asked` something before or not: keep the mark of the one
        that came first, and count who stands beside it.

        Once the first is gone nobody inherits the mark: what came second was not first.
        """
        if alarm.asks == asked:
            return
        others = [each for panel in self._panels for each in panel.alarms if each is not alarm]
        marked = next((each for each in others if each.first_up), None)
        if not alarm.asks:
            if marked is not None:
                marked.followed -= 1
            alarm.first_up = False
            alarm.followed = 0
        elif marked is not None:
            marked.followed += 1
        else:
            alarm.first_up = not any(each.asks for each in others)


def _stays(alarm: Alarm[Any]) -> bool:
    """A high alarm that people already see is not taken from their sight."""
    return alarm.condition.priority is Priority.HIGH and alarm.state not in ASIDE
