"""What an adapter is, and the one loop that keeps it alive.

An adapter turns one device into values. It opens, is polled, is closed, and says why when it
cannot: everything about waiting, trying again and telling the engine of silence lives here, once,
in `supervise`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from adapters.reading import Channel

Values = tuple[tuple[Channel, float | str], ...]


class LinkError(Exception):
    """The device cannot be reached or cannot be believed; the text is one line for a person."""


class SettingsError(Exception):
    """The device's settings cannot work; the text says what, where and what to do."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Raw bytes as they crossed the wire, for captures; never an input of the engine."""

    seconds: float
    device: str
    sent: bool
    data: bytes


@dataclass(frozen=True, slots=True)
class DeviceSettings:
    """What the config says of one device, everything an adapter may know.

    `options` are the device's own keys (port, host, baud...) as TOML gave them. `description` is
    the text of the device description and `description_name` what to call it in errors.
    `owners` names the owner of each quantity; `owner_of` falls back by scope. `where` tells
    where the settings stand ("coach.toml [devices.shunt]") for error messages.
    """

    name: str
    options: Mapping[str, object] = field(default_factory=dict)
    description: str | None = None
    description_name: str = ""
    bank: str | None = None
    source: str | None = None
    bind: Mapping[str, str] = field(default_factory=dict)
    where: str = ""


class Adapter(Protocol):
    """One device. All three calls are awaited from one task, never at the same time.

    `poll` gives one set of values, or raises `LinkError` within the adapter's own time limit: it
    never blocks the loop and never waits for ever. A device that talks unasked is polled all the
    same: `poll` waits for the next complete set.
    """

    name: str
    period_seconds: float

    async def open(self) -> None: ...

    async def poll(self) -> Values: ...

    async def close(self) -> None: ...


#: An entry point of the group `ampwright.adapters`: settings, and where raw frames go, to adapter.
Factory = Callable[[DeviceSettings, Callable[[bool, bytes], None]], Adapter]
