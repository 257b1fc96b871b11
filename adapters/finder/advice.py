"""What to switch next, and why it cannot be decided yet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from adapters.finder.search import Candidate, Search, Seen

#: Readings without which even a single answer is not yet believed: one could agree by chance
#: (of 200 random devices all were decided after four; see the benchmark in DEVELOPERS.md).
LEAST_READINGS: Final = {"V": 4, "A": 2, "°C": 2}


def decided(search: Search) -> Candidate | None:
    """The one answer, once there is one that was tried enough."""
    answers = search.answers()
    if len(answers) != 1 or wanting(search):
        return None
    return answers[0]


def wanting(search: Search) -> str:
    """What has not been seen yet that tells candidates apart, in words; empty when all has."""
    kind, seen = search.kind, search.seen
    missing = LEAST_READINGS[kind.unit] - len(seen)
    rose, fell = _moves(seen, kind.change)
    if kind.unit == "V" and not (rose and fell):
        return _two_ways(rose, fell, kind.change)
    if kind.unit != "V" and len(seen) > 1 and not (rose or fell):
        return f"the {kind.name} has not changed by {kind.change:g} {kind.unit} yet"
    if missing > 0:
        return f"{missing} more reading{'s' if missing > 1 else ''} of another size"
    return ""


def _two_ways(rose: bool, fell: bool, change: float) -> str:
    if not rose and not fell:
        return f"the voltage has not changed by {change:g} V yet: constants cannot be told from it"
    way, other, highest = ("risen", "falls", "highest") if rose else ("fallen", "rises", "lowest")
    return (
        f"the voltage has only {way}: a live voltage and the {highest} of the day cannot be told "
        f"apart until it {other}"
    )


def next_step(search: Search) -> str:
    """What to do with hands before the next reading."""
    kind, seen = search.kind, search.seen
    if kind.unit == "°C":
        return "warm or cool the sensor by 5 °C (a hand, a cloth), wait till it stands still"
    if kind.unit == "A":
        if not seen:
            return "switch a charger or a large load on, and let the current stand still"
        return (
            "switch a load on" if seen[-1].figure >= 0 else "switch the charger on"
        ) + ", so that the current turns round or changes much"
    rose, fell = _moves(seen, kind.change)
    if not seen:
        return "switch the charger off and let the voltage stand still"
    if not rose:
        return "switch the charger on and wait until the voltage is 0.3 V higher"
    if not fell:
        return "switch the charger off and a large load on, until the voltage is 0.3 V lower"
    return "switch the charger on again, or another load, for a voltage not seen yet"


def disagreed(search: Search) -> str:
    """A reading that nothing agrees with, and what it may be."""
    if not search.seen:
        return (
            f"No register shows that {search.kind.name}: it may be among others than those that "
            "were looked at (--registers), or be written in a way that is not tried."
        )
    return (
        "Left out: no register agrees with that reading and with those before. Mistyped, or read "
        "while it moved? Let it stand still for some seconds and read again; if that does not "
        "help, an earlier one was wrong: drop it and begin again."
    )


def remaining(search: Search) -> str:
    """How many are left, in a sentence."""
    count = len(search.answers())
    if count == 1:
        return f"One answer is left for the {search.kind.name}."
    return f"{count} answers still agree with every reading of the {search.kind.name}."


def _moves(seen: Sequence[Seen], change: float) -> tuple[bool, bool]:
    """Has it risen, has it fallen by so much, from one reading to a later one?"""
    figures = [each.figure for each in seen]
    rose = any(
        later - before >= change
        for index, before in enumerate(figures)
        for later in figures[index + 1 :]
    )
    fell = any(
        before - later >= change
        for index, before in enumerate(figures)
        for later in figures[index + 1 :]
    )
    return rose, fell
