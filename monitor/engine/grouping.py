"""One cause, one alarm: which condition explains which, and which alarm came first.

A fault seldom comes alone: a shunt wired backwards makes the state of charge fall below its limit,
an open charge side leaves a source standing above the bank. `EXPLAINS` says what follows from
what. While a cause stands, what it explains is suppressed by design: listed as such with its
cause, told in the journal, asking nothing of anybody. When the cause is over, whatever still
stands of them is raised after all, but not before it had its own off-delay to go away.

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

#: Cause, and what follows from it on the same bank, source or device.
EXPLAINS: Final[dict[str, frozenset[str]]] = {
    cause: frozenset(follows.split())
    for cause, follows in {
        # A current of the wrong sign makes everything counted or judged from it worthless.
        "shunt-reversed": """
            below-lowest-soc not-full-for-days charge-current-high discharge-current-high
            absorption-never-ends discharge-cut-off source-cut-off source-over-rating shunt-scale
            shunt-offset capacity-low capacity-impossible charged-unseen drained-unseen
            standing-draw large-load-left-on charge-in-vain absorption-cut-short
            no-float-after-full held-current-high
        """,
        "shunt-scale": "capacity-low capacity-impossible held-current-high",
        "shunt-offset": "held-current-high standing-draw drained-unseen",
        # A bank one cell short can neither be held at a set-point nor carry its load.
        "shorted-cell": """
            under-voltage under-voltage-at-rest inverter-cut-off-near hold-below-set-point
            float-below-set-point absorption-never-ends charge-current-high not-full-for-days
            charge-in-vain held-current-high halves-apart cells-apart capacity-low drained-unseen
            cell-under-voltage
        """,
        # Protection that has opened parts the bank from its sources, or its loads from the bank.
        "charge-side-open": """
            source-cut-off hold-below-set-point float-below-set-point not-full-for-days
            source-at-odds charge-in-vain charge-interrupted no-float-after-full
            cell-near-high-limit charge-near-cold-limit
        """,
        "discharge-side-open": """
            discharge-cut-off under-voltage under-voltage-at-rest inverter-cut-off-near
            cell-near-low-limit
        """,
        "discharge-cut-off": """
            under-voltage under-voltage-at-rest inverter-cut-off-near cell-near-low-limit
        """,
        # Heat and frost: the worse of the same says it all.
        "thermal-runaway": """
            bank-hot bank-warm bank-near-hot-limit warming-in-float absorption-never-ends
            held-current-high
        """,
        "bank-hot": "bank-warm bank-near-hot-limit",
        "electrolyte-may-freeze": "bank-cold",
        "charging-frozen": "charge-near-cold-limit",
        # Voltage beyond every limit is beyond the set-point too; empty is empty.
        "over-voltage": """
            hold-above-set-point gassing-too-long fixed-overcharge cell-over-voltage charge-in-vain
            source-at-odds
        """,
        "equalize-not-allowed": "over-voltage hold-above-set-point gassing-too-long",
        "absorption-never-ends": "gassing-too-long",
        "fixed-overcharge": "absorption-never-ends gassing-too-long hold-above-set-point",
        # A hold that is not what was told looks like another stage than the source's own.
        "hold-above-set-point": "source-at-odds",
        "hold-below-set-point": "source-at-odds",
        "float-below-set-point": "source-at-odds",
        "compensation-wrong": "source-at-odds hold-below-set-point float-below-set-point",
        "under-voltage": "under-voltage-at-rest inverter-cut-off-near cell-near-low-limit",
        "cell-under-voltage": "cell-near-low-limit",
        "cell-over-voltage": "cell-near-high-limit",
        # Lost in the leads: the posts never see what the source holds.
        "joint-resistance": """
            hold-below-set-point float-below-set-point source-at-odds lead-drop-high
        """,
        "lead-drop-high": "hold-below-set-point float-below-set-point",
        # Compensated set-points mean nothing with a temperature that is none.
        "temperature-stuck": """
            hold-above-set-point hold-below-set-point float-below-set-point compensation-wrong
            temperature-off-air
        """,
        "temperature-leapt": """
            hold-above-set-point hold-below-set-point float-below-set-point compensation-wrong
            source-at-odds
        """,
        "temperature-off-air": "compensation-wrong hold-below-set-point float-below-set-point",
        "temperature-missing": "compensation-wrong",
        # Too much current: the worst place names it.
        "charge-current-high": "source-over-rating",
        "cable-overloaded": "fuse-overloaded discharge-current-high",
        "source-cable-overloaded": "source-fuse-overloaded source-over-rating",
        # The AC side.
        "lost-neutral": "ac-high ac-low ac-above-charger-range ac-below-charger-range",
        "ac-above-charger-range": "ac-high",
        "ac-below-charger-range": "ac-low",
        "ac-lost": "ac-gone ac-low ac-below-charger-range ac-frequency-off no-float-after-full",
        # A device's own troubles, the plainest first.
        "device-silent": "figure-missing",
        "readings-implausible": "line-disturbed",
        # Why a bank does not get full, and what something large looks like.
        "sun-blocked": "not-full-for-days",
        "absorption-cut-short": "not-full-for-days",
        "charge-interrupted": "not-full-for-days",
        "charge-in-vain": "not-full-for-days",
        "large-load-left-on": "standing-draw",
    }.items()
}

#: What is judged once a minute needs so long to be judged again after its cause is gone.
GRACE_SECONDS: Final = 60.0

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
    def release(self, alarm: Alarm[Any], seconds: float) -> None: ...


class Group:
    """The panels of one bank and its sources, or of one device. It carries nothing: all memory is
    in the alarms."""

    def __init__(self, head: str, panels: Sequence[Grouped]) -> None:
        self._head = head
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
                near = self._head in (cause.target, alarm.target) or cause.target == alarm.target
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
                    if alarm.explained_by and alarm.explained_until is None:
                        alarm.explained_until = seconds + alarm.condition.off_delay + GRACE_SECONDS
                        panel.release(alarm, seconds)
                elif alarm.explained_by:
                    alarm.explained_by = cause.key
                    alarm.explained_until = None
                elif alarm.stands_behind and not _stays(alarm):
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
