"""What people entered, out of the index of a record: the log between visits.

A bank that was replaced is another bank from then on: its lives are counted, from 1.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Final, NamedTuple

from adapters.reading import Action
from monitor.engine.snapshot import EventKind
from monitor.history.index import day_of
from monitor.history.open_part import up_to_now

#: What is entered by hand; what the tool or an alarm's handling says is left to the journal.
ENTERED: Final = (Action.NOTE, Action.METER_READING, Action.REPLACE_BANK)


class Entered(NamedTuple):
    """One entry: Unix seconds and day where the clock was known, and which bank's life it is."""

    wall: float | None
    day: str | None
    bank: str
    action: str
    target: str
    words: str
    life: int


def read_log(directory: Path, zone_seconds: float) -> list[Entered]:
    """Every entry, oldest first."""
    with up_to_now(directory) as connection:
        rows = connection.execute(
            "select seconds, wall_offset, name, target, words from events "
            "join segments on segments.number = events.segment "
            f"where kind = ? and name in ({','.join('?' * len(ENTERED))}) "
            "order by segments.number, events.number",
            (EventKind.COMMAND.value, *(action.value for action in ENTERED)),
        ).fetchall()
    lives: Counter[str] = Counter()
    log = []
    for seconds, offset, name, target, words in rows:
        bank = target.partition("#")[0].partition(":")[0]
        lives[bank] += name == Action.REPLACE_BANK
        wall = None if offset is None or seconds is None else seconds + offset
        day = None if wall is None else day_of(wall, zone_seconds)
        log.append(Entered(wall, day, bank, name, target, words, lives[bank] + 1))
    return log
