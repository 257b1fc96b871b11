"""The alarm line on top of every screen: the worst alarm, and how many more there are; two rows
where one is too narrow."""

from __future__ import annotations

from typing import Final

from monitor.dashboard.widgets.line import Line
from monitor.engine.snapshot import AlarmView, Priority, Snapshot
from monitor.words import sentences as say
from monitor.words.alarm_line import alarm_lines
from monitor.words.alarm_states import standing, unseen, worst
from monitor.words.fitting import fitted

_CLASSES: Final = {Priority.LOW: "low", Priority.MEDIUM: "medium", Priority.HIGH: "high"}


class AlarmBar(Line):
    """Coloured by the worst that is true now, plainer once all are seen; never by colour alone."""

    DEFAULT_CSS = """
    AlarmBar { padding: 0 1; color: $quiet; }
    AlarmBar.low { background: $low; color: $low-text; text-style: bold; }
    AlarmBar.medium { background: $medium; color: $medium-text; text-style: bold; }
    AlarmBar.high { background: $high; color: $high-text; text-style: bold; }
    AlarmBar.seen { text-style: none; }
    AlarmBar.low:nocolor, AlarmBar.medium:nocolor, AlarmBar.high:nocolor {
        text-style: bold reverse;
    }
    AlarmBar.seen:nocolor { text-style: reverse; }
    """

    def draw(self, snapshot: Snapshot | None, stalled: str, width: int) -> None:
        """Draw it for a screen so many columns wide; `stalled` says why nothing is live."""
        alarms: list[AlarmView] = []
        if snapshot is None or stalled:
            lines = tuple(fitted(stalled or say.WAITING, width - 2, 2).split("\n"))
        else:
            lines = alarm_lines(snapshot, width - 2)
            alarms = standing(snapshot.alarms)
        self.rows(len(lines))
        self.show("\n".join(lines))
        highest = worst(alarms)
        for priority, name in _CLASSES.items():
            self.mark(name, highest is priority)
        self.mark("seen", bool(alarms) and not any(unseen(alarm) for alarm in alarms))
