"""Cases of the tool's own conditions: name: (raises it, comes close and must not)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from adapters.reading import Channel, OwnLink, Quantity
from monitor.engine.device import Device, Given, Slot

VOLTS: Final = Channel("house", Quantity.BANK_VOLTS)


def device(name: str = "shunt", period: float | None = 5.0, **figures: Any) -> Device:
    thing = Device(name, period)
    for figure, value in figures.items():
        setattr(thing, figure, value)
    return thing


def disturbed(refused_a_minute: float, hours: float = 3.0) -> Device:
    """Twelve polls of three figures a minute, of which so many are refused."""
    thing = device()
    owed = 0.0
    for _ in range(round(60 * hours)):
        owed += refused_a_minute
        thing.values = 36
        thing.refused = int(owed)
        owed -= thing.refused
        thing.look()
    return thing


def gappy(lost_every: int) -> Device:
    """A quarter of an hour in which every so many-th poll brings nothing."""
    thing = device()
    for poll in range(180):
        if poll % lost_every:
            thing.heard(5.0 * poll)
        if poll % 12 == 0:
            thing.look()
    return thing


def without_volts(seconds: float) -> Device:
    """It last gave volts so long before its newest reading."""
    thing = device(last=1000.0)
    given = Given(thing, VOLTS, Slot(), 0)
    given.seconds = 1000.0 - seconds
    thing.given[VOLTS] = given
    return thing


def own(link: OwnLink, up: bool) -> Device:
    return device(link.value, None, up=up, reason="" if up else "/data: no room left")


CASES: Final[dict[str, tuple[Callable[[], Any], Callable[[], Any]]]] = {
    # one figure refused every six minutes, against two in an hour
    "line-disturbed": (lambda: disturbed(1.0 / 6.0), lambda: disturbed(1.0 / 30.0)),
    "polls-lost": (lambda: gappy(2), lambda: gappy(12)),
    "figure-missing": (lambda: without_volts(300.0), lambda: without_volts(60.0)),
    "recording-stopped": (
        lambda: own(OwnLink.RECORDER, False),
        lambda: own(OwnLink.RECORDER, True),
    ),
    "disk-nearly-full": (lambda: own(OwnLink.DISK, False), lambda: own(OwnLink.DISK, True)),
    "heartbeat-not-delivered": (
        lambda: own(OwnLink.HEARTBEAT, False),
        lambda: own(OwnLink.HEARTBEAT, True),
    ),
}
