"""One moment as the checks see it: the few figures of a snapshot that they judge by.

A figure too old to be believed is None here as it is in the snapshot.
"""

from __future__ import annotations

from typing import NamedTuple

from monitor.engine.snapshot import AlarmState, Snapshot

#: States in which an alarm is not up.
_DOWN = (AlarmState.NORMAL, AlarmState.RETURNED)


class SourceLook(NamedTuple):
    """`reported` is what the source says of its own stage."""

    id: str
    volts: float | None = None
    amps: float | None = None
    reported: str | None = None


class Look(NamedTuple):
    """`alarms` are those that are up, as "target:name"; positive amps flow into the bank."""

    seconds: float
    wall_offset: float | None = None
    volts: float | None = None
    amps: float | None = None
    celsius: float | None = None
    sources: tuple[SourceLook, ...] = ()
    alarms: tuple[str, ...] = ()

    def source(self, source_id: str) -> SourceLook:
        for source in self.sources:
            if source.id == source_id:
                return source
        return SourceLook(source_id)


def look_of(snapshot: Snapshot, bank_id: str) -> Look:
    """What there is to see of a bank and its sources."""
    sources = tuple(
        SourceLook(each.id, each.volts.figure, each.amps.figure, each.reported_stage)
        for each in snapshot.sources
        if each.bank == bank_id
    )
    alarms = tuple(f"{a.target}:{a.name}" for a in snapshot.alarms if a.state not in _DOWN)
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
