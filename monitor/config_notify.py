"""The table [notify] of the configuration: whom to tell of alarms, by a command of the user's own.

[notify]
command = ["/home/ann/bin/tell-me", "--short"]   # a program and its arguments; no shell
priority = "medium"          # tell alarms of this priority and above: low, medium, high
repeat_minutes = 30          # a high alarm that nobody acknowledged is told again; 0: never
most_per_hour = 6            # more than these wait (high ones: half as many again)
timeout_seconds = 30         # a command that takes longer is ended
heartbeat_hours = 24         # left out: no sign of life
bell = true                  # the terminal's bell at a new alarm; left out: silent
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from monitor.config_keys import Key, Problems, Refused, number, one_of, read_table, whole

PRIORITIES: Final = ("low", "medium", "high")


@dataclass(frozen=True, slots=True)
class Notify:
    """Whom to tell, and how often. An empty `command` tells nobody.

    `most_per_hour`: EEMUA 191 calls one alarm in ten minutes very likely acceptable (secondary).
    `repeat_seconds` and `timeout_seconds` are our choice.
    """

    command: tuple[str, ...] = ()
    priority: str = "medium"
    repeat_seconds: float = 1800.0
    most_per_hour: int = 6
    timeout_seconds: float = 30.0
    heartbeat_seconds: float | None = None
    bell: bool = False


def a_command(value: object) -> tuple[str, ...]:
    """A program and its arguments, each a text; no shell will see them."""
    if isinstance(value, str):
        raise Refused('write a list, program first: ["/usr/local/bin/tell", "--short"]')
    if not isinstance(value, list) or not value or not all(isinstance(each, str) for each in value):
        raise Refused('write every part between quotes: ["tell", "--to", "ann"]')
    if not value[0].strip():
        raise Refused("the first part is the program")
    if any("\0" in part for part in value):
        raise Refused("a null character cannot be given to a program")
    return tuple(value)


def _yes_or_no(value: object) -> bool:
    if not isinstance(value, bool):
        raise Refused("write true or false, without quotes")
    return value


NOTIFY: Final[Mapping[str, Key]] = {
    "command": Key("a program and its arguments, as a list", a_command),
    "priority": one_of(f"one of {', '.join(PRIORITIES)}", {name: name for name in PRIORITIES}),
    "repeat_minutes": number(
        "minutes from 0 (never) to 1440", 0.0, 1440.0, "it is in minutes: 30 is half an hour"
    ),
    "most_per_hour": whole("a number of messages an hour, 1 to 60", 1, 60),
    "timeout_seconds": number(
        "seconds from 1 to 600", 1.0, 600.0, "it is in seconds: 60 is a minute"
    ),
    "heartbeat_hours": number(
        "hours from 0.1 to 168", 0.1, 168.0, "it is in hours: 24 is once a day"
    ),
    "bell": Key("true or false", _yes_or_no),
}

#: Keys that say nothing without a command.
_OF_THE_COMMAND: Final = frozenset(NOTIFY) - {"command", "bell", "priority"}


def read_notify(given: Mapping[str, object], problems: Problems) -> Notify:
    """The table as it is meant; what is wrong with it becomes a problem."""
    before = len(problems.found)
    values = read_table(given, NOTIFY, ("notify",), problems)
    if len(problems.found) > before:
        return Notify()
    if "command" not in values:
        for name in sorted(_OF_THE_COMMAND & set(values)):
            advice = 'add command = ["program", "argument"]'
            problems.add(("notify", name), "a command beside it", "none", advice)
    hours, minutes = values.get("heartbeat_hours"), values.get("repeat_minutes")
    usual = Notify()
    return Notify(
        command=values.get("command", ()),
        priority=values.get("priority", usual.priority),
        repeat_seconds=usual.repeat_seconds if minutes is None else 60.0 * minutes,
        most_per_hour=values.get("most_per_hour", usual.most_per_hour),
        timeout_seconds=values.get("timeout_seconds", usual.timeout_seconds),
        heartbeat_seconds=None if hours is None else 3600.0 * hours,
        bell=values.get("bell", usual.bell),
    )
