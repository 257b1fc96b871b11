"""What the procedure sees, and when: the few figures of a moment that the checks judge by.

When it looks is settled by the inputs alone: once at the first input of each second of
feed time. So a recording gives the same looks as the feed that it was made of, however busy the
screen was that showed it; a record says in `looks` that its outcomes rest on such looks.
"""

from __future__ import annotations

import math
from collections import deque
from typing import TYPE_CHECKING, Final

from adapters.reading import Input
from monitor.commission.said import Said, said_in
from monitor.engine.look import DOWN, Look, SourceLook, look_at
from monitor.engine.snapshot import Event, Snapshot

if TYPE_CHECKING:
    from monitor.engine.engine import Engine

__all__ = ["EXACT", "LOOKS", "LOOKS_WITHOUT_AC", "Look", "Looking", "SourceLook", "look_of"]

#: What a record says of how its looks were taken.
LOOKS: Final = "at the first input of each second, AC too"
#: The same of before AC sides were looked at: replayed without them, it gives the same again.
LOOKS_WITHOUT_AC: Final = "at the first input of each second"
EXACT: Final = (LOOKS, LOOKS_WITHOUT_AC)


class Looking:
    """What the procedure is to see and to hear of one bank, in order, collected input by input.

    `took` is called after each step of the engine, from whatever thread steps it; `take` gives what
    came since, from another.
    """

    def __init__(self, bank_id: str, *, ac: bool = True) -> None:
        self._bank_id = bank_id
        self._ac = ac
        self._second: int | None = None
        self._waiting: deque[Look | Said] = deque()

    def took(self, value: Input, events: tuple[Event, ...], engine: Engine) -> None:
        if math.isfinite(value.seconds):
            second = math.floor(value.seconds)
            if second != self._second:
                self._second = second
                look = look_at(engine, self._bank_id)
                self._waiting.append(look if self._ac else without_ac(look))
        for event in events:
            said = said_in(event)
            if said is not None:
                self._waiting.append(said)

    def take(self, most: int | None = None) -> list[Look | Said]:
        """What came since, the oldest first, so many at `most`."""
        waiting = self._waiting
        count = len(waiting) if most is None else min(most, len(waiting))
        return [waiting.popleft() for _ in range(count)]


def without_ac(look: Look) -> Look:
    return look._replace(sources=tuple(each._replace(supply=None) for each in look.sources))


def look_of(snapshot: Snapshot, bank_id: str) -> Look:
    """What there is to see of a bank and its sources, for a feed that gives snapshots alone."""
    sources = tuple(
        SourceLook(each.id, each.volts.figure, each.amps.figure, each.reported_stage, each.supply)
        for each in snapshot.sources
        if each.bank == bank_id
    )
    alarms = tuple(f"{a.target}:{a.name}" for a in snapshot.alarms if a.state not in DOWN)
    bank = next((each for each in snapshot.banks if each.id == bank_id), None)
    if bank is None:
        return Look(snapshot.seconds, snapshot.wall_offset, sources=sources, alarms=alarms)
    return Look(
        snapshot.seconds,
        snapshot.wall_offset,
        bank.volts.figure,
        bank.amps.figure,
        bank.celsius.figure,
        sources,
        alarms,
    )
