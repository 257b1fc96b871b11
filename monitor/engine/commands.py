"""What a person tells the engine, carried out.

An alarm is named by "target:condition" ("house:over-voltage"). The target alone means all of its
alarms that are not normal, and nothing at all means every such alarm of the site.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from adapters.reading import Action, Command
from monitor.engine.alarms import Alarm, Trigger
from monitor.engine.device import Device
from monitor.engine.journal import Journal
from monitor.engine.panel import Panel
from monitor.engine.rooms import BankRooms
from monitor.engine.snapshot import AlarmState, EventKind

#: What each alarm action pulls. Shelving carries a time and is done by itself.
TRIGGERS: Final = {
    Action.ACKNOWLEDGE: Trigger.ACKNOWLEDGE,
    Action.SHELVE: Trigger.SHELVE,
    Action.UNSHELVE: Trigger.UNSHELVE,
    Action.OUT_OF_SERVICE: Trigger.REMOVE,
    Action.IN_SERVICE: Trigger.RESTORE,
    Action.RESET: Trigger.RESET,
}


def carry_out(
    command: Command,
    panels: Sequence[Panel[Any]],
    banks: Sequence[BankRooms],
    devices: Mapping[str, Device],
    journal: Journal,
) -> None:
    """Note the command in the journal, then do what it asks."""
    note = f": {command.note}" if command.note else ""
    words = f"{command.who}{note}"
    trigger = TRIGGERS.get(command.action)
    chosen: list[tuple[Panel[Any], Alarm[Any]]] = []
    if trigger is not None:
        chosen = _chosen(command.target, panels)
        if not chosen:
            words = f"{words} (no alarm is called {command.target!r})"
    rooms = None
    if command.action is Action.REPLACE_BANK:
        rooms = next((each for each in banks if each.bank.id == command.target), None)
        if rooms is None:
            words = f"{words} (no bank is called {command.target!r})"
    if command.action is Action.POLL_PERIOD:
        words += _tell_period(command, devices.get(command.target))
    journal.note(command.seconds, EventKind.COMMAND, str(command.action), command.target, words)
    if rooms is not None:
        rooms.tell_replaced(command.seconds)
    for panel, alarm in chosen:
        if trigger is Trigger.SHELVE:
            panel.shelve(alarm, command.seconds, _seconds_in(command.note), command.who)
        elif trigger is not None:
            panel.pull(alarm, trigger, command.seconds, command.who)
        if alarm.state != AlarmState.NORMAL:
            note = _words_in(command.note)
            alarm.note_handled(command.seconds, command.who, str(command.action), note)


def _tell_period(command: Command, device: Device | None) -> str:
    """Carry it out; what there is to say beside the note."""
    if device is None:
        return f" (no device is called {command.target!r})"
    device.tell_period(_seconds_in(command.note))
    return ""


def _chosen(target: str, panels: Sequence[Panel[Any]]) -> list[tuple[Panel[Any], Alarm[Any]]]:
    return [
        (panel, alarm)
        for panel in panels
        for alarm in panel.alarms
        if target == alarm.key or (alarm.listed and target in ("", alarm.target))
    ]


def _words_in(note: str) -> str:
    """The note without the seconds that a shelving note may begin with."""
    first, _, rest = note.strip().partition(" ")
    return rest.strip() if _seconds_in(first) is not None else note.strip()


def _seconds_in(note: str) -> float | None:
    """The seconds that a note begins with; None where there are none, or nothing above zero."""
    first = note.split(maxsplit=1)[0] if note.strip() else ""
    try:
        seconds = float(first)
    except ValueError:
        return None
    return seconds if 0.0 < seconds < float("inf") else None
