"""One device of a recording as an ordinary adapter, so that a config can name a capture.

    [devices.shunt]
    adapter = "replay"
    capture = "night.capture"    # a capture or a CSV table
    device = "shunt"             # which of its devices; may be left out where there is one
    rate = 1                     # recorded seconds a second, or "max"
    loop = false                 # begin again at the end

Readings come in order and none is left out. Where the device was silent in the recording, the link
is down here too, with the recorded reason.
"""

from __future__ import annotations

import asyncio
import math
import statistics
from collections.abc import Callable, Iterator
from itertools import islice, pairwise
from typing import Final

from adapters.adapter import DeviceSettings, LinkError, LinkLost, SettingsError, Values
from adapters.reading import QUANTITIES, Channel, LinkState, Reading, Scope
from replay.rate import checked_rate, parse_rate
from replay.recording import Recording, open_recording
from replay.sealed_lines import CaptureError

#: Poll waits so many periods, and never less than so many seconds, before it calls the link down
#: (common practice: a device that missed a handful of polls is not there).
_PATIENCE_PERIODS: Final = 5.0
_PATIENCE_SECONDS: Final = 2.0

#: Readings looked at to learn how often the device spoke, and of whom.
_SAMPLE: Final = 200

_OPTIONS: Final = frozenset({"capture", "device", "rate", "loop", "period_seconds"})


def device(settings: DeviceSettings, frames: Callable[[bool, bytes], None]) -> PlayedDevice:
    """The entry point `replay`. No bytes cross a wire here, so `frames` is never called."""
    del frames
    return PlayedDevice(settings)


class PlayedDevice:
    """Plays the readings of one device. The clock is the event loop's."""

    unasked = True  # the recording sets the pace

    def __init__(self, settings: DeviceSettings) -> None:
        self.name = settings.name
        self._settings = settings
        self._rate = _rate(settings)
        self._loop = _flag(settings, "loop")
        self._recording = _recording(settings)
        self._device = _device_name(settings, self._recording)
        sample = list(islice(self._readings(), _SAMPLE))
        self.period_seconds = _period(sample) / self._rate
        self._owners = _new_owners(settings, sample)
        self._rows: Iterator[Reading | LinkState] = iter(())
        self._next: Reading | LinkState | None = None
        self._began: tuple[float, float] | None = None

    async def open(self) -> None:
        """Begins to play, or goes on where it was: time goes by while a link is down."""
        if self._began is None:
            self._begin()

    async def poll(self) -> Values:
        """The next recorded reading, when its time has come; `LinkError` where there is none."""
        if self._next is None and self._loop:
            self._begin()
        if self._next is None:
            raise LinkLost(f"{self.name}: the recording {self._recording.title} has ended")
        await self._wait_for(self._next.seconds)
        row, self._next = self._next, next(self._rows, None)
        if isinstance(row, LinkState):
            raise LinkLost(f"{self.name}: {row.reason} (as recorded)")
        return tuple((self._rebound(channel), figure) for channel, figure in row.values)

    async def close(self) -> None:
        """Nothing to close: the recording goes on when the link is opened again."""

    def _begin(self) -> None:
        self._rows = self._rows_of_device()
        self._next = next(self._rows, None)
        if self._next is not None:
            self._began = (asyncio.get_running_loop().time(), self._next.seconds)

    async def _wait_for(self, seconds: float) -> None:
        if self._began is None or math.isinf(self._rate):
            await asyncio.sleep(0)
            return
        at, start = self._began
        wait = at + (seconds - start) / self._rate - asyncio.get_running_loop().time()
        patience = max(_PATIENCE_PERIODS * self.period_seconds, _PATIENCE_SECONDS)
        await asyncio.sleep(max(0.0, min(wait, patience)))
        if wait > patience:
            raise LinkError(f"{self.name}: silent here in the recording")

    def _rows_of_device(self) -> Iterator[Reading | LinkState]:
        """Its readings, and the moments in which it went silent."""
        for value in self._recording.inputs():
            match value:
                case Reading(device=self._device) | LinkState(device=self._device, up=False):
                    yield value

    def _readings(self) -> Iterator[Reading]:
        return (row for row in self._rows_of_device() if isinstance(row, Reading))

    def _rebound(self, channel: Channel) -> Channel:
        return Channel(self._owners(channel), channel.quantity)


def _new_owners(settings: DeviceSettings, sample: list[Reading]) -> Callable[[Channel], str]:
    """Whose the figures are now: as the config binds them, else as recorded.

    A device that reported several banks (or sources) keeps their recorded names.
    """
    channels = {channel for reading in sample for channel, _ in reading.values}
    banks = {_thing(channel) for channel in channels if _of_bank(channel)}
    sources = {channel.owner for channel in channels if not _of_bank(channel)}
    bank = settings.bank if len(banks) <= 1 else None
    source = settings.source if len(sources) <= 1 else None

    def owner(channel: Channel) -> str:
        new = settings.bind.get(channel.quantity) or (bank if _of_bank(channel) else source)
        if new is None:
            return channel.owner
        if QUANTITIES[channel.quantity].scope is Scope.CELL:
            return new + channel.owner[len(_thing(channel)) :]
        return new

    return owner


def _of_bank(channel: Channel) -> bool:
    return QUANTITIES[channel.quantity].scope in (Scope.BANK, Scope.CELL)


def _thing(channel: Channel) -> str:
    """The bank or source itself, without the number of a cell."""
    of_cell = QUANTITIES[channel.quantity].scope is Scope.CELL
    return channel.owner.partition("#")[0] if of_cell else channel.owner


def _period(sample: list[Reading]) -> float:
    """How often the device spoke: the middle of the times between its first readings."""
    steps = [later.seconds - earlier.seconds for earlier, later in pairwise(sample)]
    rising = [step for step in steps if step > 0]
    return statistics.median(rising) if rising else 1.0


def _recording(settings: DeviceSettings) -> Recording:
    unknown = settings.options.keys() - _OPTIONS
    if unknown:
        raise _wrong(settings, f"unknown key {min(unknown)}; use {', '.join(sorted(_OPTIONS))}")
    path = settings.options.get("capture")
    if not isinstance(path, str):
        raise _wrong(settings, f"capture: expected the path of a recording, found {path!r}")
    try:
        return open_recording(path)
    except CaptureError as error:
        raise _wrong(settings, str(error)) from None


def _device_name(settings: DeviceSettings, recording: Recording) -> str:
    wanted = settings.options.get("device")
    found = {row.device for row in recording.inputs() if isinstance(row, Reading)}
    listed = ", ".join(sorted(found)) or "none"
    if wanted is None and len(found) == 1:
        return found.pop()
    if isinstance(wanted, str) and wanted in found:
        return wanted
    raise _wrong(settings, f"device: expected one of {listed}; found {wanted!r}")


def _rate(settings: DeviceSettings) -> float:
    given = settings.options.get("rate", 1.0)
    try:
        if isinstance(given, str):
            return parse_rate(given)
        if isinstance(given, (int, float)) and not isinstance(given, bool):
            return checked_rate(float(given))
    except ValueError as error:
        raise _wrong(settings, str(error)) from None
    raise _wrong(settings, f"rate: expected a number above 0 or max, found {given!r}")


def _flag(settings: DeviceSettings, key: str) -> bool:
    given = settings.options.get(key, False)
    if not isinstance(given, bool):
        raise _wrong(settings, f"{key}: expected true or false, found {given!r}")
    return given


def _wrong(settings: DeviceSettings, text: str) -> SettingsError:
    return SettingsError(f"{settings.where or settings.name}: {text}")
