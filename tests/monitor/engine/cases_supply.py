"""Cases of the AC side and of a source's own cable: name: (raises it, comes close and must not)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from adapters.reading import Channel, Quantity
from monitor.engine.device import Device, Given, Slot
from monitor.engine.source import SourceRoom
from tests.monitor.engine.watched import sourced

Case = Callable[[], Any]
AC: Final = (
    Quantity.AC_VOLTS,
    Quantity.AC_OTHER_LEG_VOLTS,
    Quantity.AC_AMPS,
    Quantity.AC_WATTS,
    Quantity.AC_HERTZ,
    Quantity.AC_POWER_FACTOR,
)
HOUR: Final = 3600.0


class Pedestal:
    """What a charger's meter shows of its AC side, looked at every ten seconds."""

    def __init__(self, **source_keys: Any) -> None:
        self.room = sourced(source_keys)
        self.slots = {quantity: Slot() for quantity in AC}
        self.device = Device("charger", 10.0)
        self.seconds = 0.0

    def show(self, hours: float, volts: float, **more: float) -> Pedestal:
        """For so long these figures and no others."""
        figures = {Quantity.AC_VOLTS: volts, **{Quantity(f"ac_{k}"): v for k, v in more.items()}}
        until = self.seconds + hours * HOUR
        while self.seconds < until:
            self.seconds += 10.0
            for quantity, slot in self.slots.items():
                slot.givens.clear()
                if quantity in figures:
                    slot.givens.append(self._given(slot, quantity, figures[quantity]))
            self.room.supply.look(self.slots, self.seconds)
            if self.seconds % 60.0 == 0.0:
                self.room.supply.minute(self.slots, self.seconds)
        return self

    def _given(self, slot: Slot, quantity: Quantity, figure: float) -> Given:
        given = Given(self.device, Channel("shore", quantity), slot, -1)
        given.figure = figure
        given.seconds = self.seconds
        return given


def fed(volts: float, hours: float = 0.1, **more: float) -> SourceRoom:
    return Pedestal().show(hours, volts, **more).room


def swung(*volts: float) -> SourceRoom:
    """A quarter of an hour at each."""
    pedestal = Pedestal().show(1.0, 119.0)
    for each in volts:
        pedestal.show(0.25, each)
    return pedestal.room


def unplugged(there_hours: float, gone_hours: float, **source_keys: Any) -> SourceRoom:
    return Pedestal(**source_keys).show(there_hours, 119.0).show(gone_hours, 0.0).room


def limited(*amps: float, regulating: float = 0.0) -> SourceRoom:
    """Ten minutes at each of these amps, at its limit."""
    room = sourced(amps=amps[-1])
    for each in amps:
        for _ in range(10):
            room.output.look(each, regulating)
    return room


CASES: Final[dict[str, tuple[Case, Case]]] = {
    "source-cable-overloaded": (
        lambda: sourced({"cable_amps": 40.0}, amps=43.0),
        lambda: sourced({"cable_amps": 40.0}, amps=41.0),
    ),
    "source-fuse-overloaded": (
        lambda: sourced({"fuse_amps": 40.0}, amps=45.0),
        lambda: sourced({"fuse_amps": 40.0}, amps=43.0),
    ),
    "source-gives-less": (lambda: limited(40.0, 16.0), lambda: limited(40.0, 26.0)),
    "ac-above-charger-range": (lambda: fed(268.0), lambda: fed(262.0)),
    "ac-below-charger-range": (lambda: fed(88.0), lambda: fed(91.0)),
    "ac-frequency-off": (lambda: fed(120.0, hertz=66.5), lambda: fed(120.0, hertz=62.9)),
    # a supply that only sags has all its neutral
    "lost-neutral": (lambda: swung(152.0, 95.0), lambda: swung(119.0, 85.0)),
    "ac-high": (lambda: fed(134.0), lambda: fed(130.0)),
    "ac-low": (lambda: fed(205.0), lambda: fed(209.0)),
    "power-factor-low": (
        lambda: fed(120.0, amps=9.0, watts=650.0),
        # a charger that hardly runs
        lambda: fed(120.0, amps=1.0, power_factor=0.4),
    ),
    "ac-lost": (
        lambda: unplugged(1.0, 0.1, ac_expected=True),
        lambda: unplugged(1.0, 0.03, ac_expected=True),
    ),
    "ac-gone": (lambda: unplugged(50.0, 0.5), lambda: unplugged(20.0, 0.5)),
}
