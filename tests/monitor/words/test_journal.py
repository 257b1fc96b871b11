"""The journal as lines: what goes to and fro takes one, and nothing is left out that matters."""

from __future__ import annotations

from datetime import UTC

from monitor.engine.journal import MOVED
from monitor.engine.snapshot import Event, EventKind, Priority
from monitor.words.figures import Clock
from monitor.words.journal import journal_lines

#: Seconds are those of a day that begins at midnight.
CLOCK = Clock(1_780_272_000.0, UTC)


def change(minute: int, words: str, target: str = "house") -> Event:
    return Event(minute, 60.0 * minute, EventKind.STAGE, "", target, Priority.NONE, words)


def at(hour: int, minute: int) -> int:
    return 60 * hour + minute


def lines(*events: Event) -> list[str]:
    return journal_lines(events, 60.0 * at(9, 0), CLOCK)


UP, DOWN = f"discharge{MOVED}bulk", f"bulk{MOVED}discharge"


def test_to_and_fro_takes_one_line_with_the_newest_first() -> None:
    assert lines(
        change(at(7, 30), f"rest{MOVED}discharge"),
        change(at(8, 3), UP),
        change(at(8, 11), DOWN),
        change(at(8, 26), UP),
        change(at(8, 32), DOWN),
        change(at(8, 40), f"discharge{MOVED}rest"),
    ) == [
        "08:40 stage house: discharge to rest",
        "08:32 stage house: bulk to discharge; 4 changes to and fro since 08:03",
        "07:30 stage house: rest to discharge",
    ]


def test_there_and_back_once_stays_as_it_is() -> None:
    assert lines(change(at(8, 3), UP), change(at(8, 11), DOWN)) == [
        "08:11 stage house: bulk to discharge",
        "08:03 stage house: discharge to bulk",
    ]


def test_what_happened_between_keeps_its_place() -> None:
    link = Event(500, 60.0 * at(8, 20), EventKind.LINK, "shunt", "shunt", Priority.NONE, "silent")
    told = lines(change(at(8, 3), UP), change(at(8, 11), DOWN), link, change(at(8, 26), UP))
    assert len(told) == 4
    assert told[1] == "08:20 link shunt: silent"


def test_banks_and_sources_are_not_mixed() -> None:
    owners = ("house",) * 3 + ("roof",) * 3
    told = lines(*(change(at(8, n), (DOWN, UP)[n % 2], who) for n, who in enumerate(owners)))
    assert told == [
        "08:05 stage roof: discharge to bulk; 3 changes to and fro since 08:03",
        "08:02 stage house: bulk to discharge; 3 changes to and fro since 08:00",
    ]
