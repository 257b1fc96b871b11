"""What an adapter is: one device turned into values.

It opens, is polled, is closed, and says why when it cannot. Everything about waiting, trying again
and telling the engine of silence lives elsewhere, once: `adapters.supervise`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from adapters.reading import QUANTITIES, Channel, Quantity, Scope

Values = tuple[tuple[Channel, float | str], ...]


class LinkError(Exception):
    """The device cannot be reached or cannot be believed; the text is one line for a person."""


class LinkLost(LinkError):
    """The way to the device is gone (unplugged, connection closed): only reopening can help."""


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
    same: `poll` waits for the next complete set. It raises `LinkLost` when the link itself is gone.
    `close` may come at any time, twice, or without `open`.

    Four attributes may be added. `unasked` true: the device sets the pace, so the next poll
    follows at once instead of at the next period. `listens` true: it is only listened to, though
    polled at its period. `remark` is a line of text, or empty: what is wrong with a device that
    works in part ("the device refuses holding registers 10..11 ..."); it is told as the reason of a
    `LinkState` that is up. `about` is a tuple of lines that a person who sets the device up may
    want: who it is and what it offers.
    """

    name: str
    period_seconds: float

    async def open(self) -> None: ...

    async def poll(self) -> Values: ...

    async def close(self) -> None: ...


#: An entry point of the group `ampwright.adapters`: settings, and where raw frames go, to adapter.
Factory = Callable[[DeviceSettings, Callable[[bool, bytes], None]], Adapter]


def owner_of(settings: DeviceSettings, quantity: Quantity, cell: int | None = None) -> str:
    """Whose figure this is: the bank's or source's id, or `house#3` for the bank's third cell.

    An exception in `bind` comes first; else quantities of a bank and its cells belong to the
    device's `bank`, those of a source and of its AC side to its `source`. `SettingsError` when the
    config does not say.
    """
    scope = QUANTITIES[quantity].scope
    key = "bank" if scope in (Scope.BANK, Scope.CELL) else "source"
    owner = settings.bind.get(quantity.value)
    if owner is None:
        owner = settings.bank if key == "bank" else settings.source
    if not owner:
        raise SettingsError(
            f"{settings.where or settings.name}: the device tells {quantity.value} but nothing "
            f'says what it belongs to: add {key} = "..." to the device, or '
            f'{quantity.value} = "..." under its [bind]'
        )
    return owner if cell is None else f"{owner}#{cell}"


def unheard(sent: bool, data: bytes) -> None:
    """Where raw bytes go when nobody records them."""
    del sent, data
