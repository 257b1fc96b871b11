"""One moment of a bank in few figures: cheap enough to be kept for every second.

What a snapshot says of the same moment, without the rest of it: a fifth of its cost.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from monitor.engine.snapshot import AlarmState, SupplyView
from monitor.engine.supply import shown

if TYPE_CHECKING:
    from monitor.engine.engine import Engine
    from monitor.engine.panel import Panel

#: States in which an alarm is not up.
DOWN: Final = (AlarmState.NORMAL, AlarmState.RETURNED)


class SourceLook(NamedTuple):
    """`reported` is what the source says of its own stage, `supply` its AC side where told."""

    id: str
    volts: float | None = None
    amps: float | None = None
    reported: str | None = None
    supply: SupplyView | None = None


class Look(NamedTuple):
    """`alarms` are those that are up, as "target:name"; positive amps flow into the bank. A figure
    too old to be believed is None, as it is in a snapshot."""

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


def look_at(engine: Engine, bank_id: str) -> Look:
    """As of the newest input."""
    now, offset = engine.seconds or 0.0, engine.site_watch.wall_offset
    alarms = tuple(
        f"{alarm.target}:{alarm.condition.name}"
        for panel in _panels(engine)
        for alarm in panel.alarms
        if alarm.listed and alarm.state not in DOWN
    )
    for rooms in engine.banks:
        if rooms.bank.id != bank_id:
            continue
        given = rooms.given
        sources = []
        for source, room in zip(given.sources, rooms.sources, strict=True):
            reported = source.reported_stage.best(now)
            said = None if reported is None else str(reported.figure)
            volts, amps = source.volts.number(now), source.amps.number(now)
            fed = shown(source.supply, now)
            sources.append(SourceLook(room.source.id, volts, amps, said, fed))
        volts, amps, celsius = (
            slot.number(now) for slot in (given.volts, given.amps, given.celsius)
        )
        return Look(now, offset, volts, amps, celsius, tuple(sources), alarms)
    return Look(now, offset, alarms=alarms)


def _panels(engine: Engine) -> Iterator[Panel[Any]]:
    for rooms in engine.banks:
        yield rooms.panel
        yield from rooms.source_panels
    yield from engine.device_panels.values()
    yield engine.site_panel
