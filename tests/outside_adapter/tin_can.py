"""An adapter from outside: a device that always tells the voltage its settings give it."""

from __future__ import annotations

from collections.abc import Callable

from adapters.adapter import DeviceSettings, LinkError, Values, owner_of
from adapters.reading import Channel, Quantity


class TinCan:
    def __init__(self, settings: DeviceSettings) -> None:
        self.name = settings.name
        self.period_seconds = 1.0
        self._volts = float(str(settings.options["volts"]))
        self._channel = Channel(owner_of(settings, Quantity.BANK_VOLTS), Quantity.BANK_VOLTS)
        self._open = False

    async def open(self) -> None:
        self._open = True

    async def poll(self) -> Values:
        if not self._open:
            raise LinkError(f"{self.name} is not open")
        return ((self._channel, self._volts),)

    async def close(self) -> None:
        self._open = False


def adapter(settings: DeviceSettings, frames: Callable[[bool, bytes], None]) -> TinCan:
    """Tin cans have no wire, hence no frames."""
    del frames
    return TinCan(settings)
