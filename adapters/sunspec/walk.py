"""Finding the SunSpec map of a device: the marker, then model after model to the end.

The walk steps by the lengths that the device states, so that an unknown model, or one longer or
shorter than its definition, is passed like any other. It ends at the end marker, and wherever it
cannot go on it ends in words: what was found until then is still good.
"""

from __future__ import annotations

import contextlib
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from adapters.adapter import LinkError, LinkLost
from adapters.modbus_link import Refused
from adapters.registers import LAST_ADDRESS
from adapters.sunspec.models import HEADER

#: Reads registers: address and number to words; `Refused` or `LinkError` where it cannot.
Read = Callable[[int, int], Awaitable[Sequence[int]]]

#: Where a map may begin (SunSpec device information model, discovery), the usual place first.
BASES: Final = (40_000, 0, 50_000)

#: "SunS" in two registers.
MARKER: Final = (0x5375, 0x6E53)
END_ID: Final = 0xFFFF

_NO_ANSWER: Final = "the device does not answer"

#: More models than any device has (a few dozen, from memory): a walk through garbage must end.
_MOST_MODELS: Final = 256


class Found(NamedTuple):
    """A model of a device: where its id stands, the length it states (without id and length), and
    which of the models with this id it is, from 1."""

    id: int
    address: int
    length: int
    instance: int

    @property
    def end(self) -> int:
        return self.address + HEADER + self.length

    def __str__(self) -> str:
        again = f" ({self.instance})" if self.instance > 1 else ""
        return f"model {self.id}{again} at {self.address}"


@dataclass(frozen=True, slots=True)
class DeviceMap:
    """The models in their order. `trouble` says why the walk ended before an end marker."""

    base: int
    models: tuple[Found, ...]
    trouble: str = ""

    @property
    def cut_short(self) -> bool:
        """The walk ended in silence: there may be more."""
        return self.trouble.startswith(_NO_ANSWER)


async def find_map(read: Read, bases: Sequence[int] = BASES) -> DeviceMap:
    """Look for the marker and walk; `LinkError` where there is no map or no answer at all."""
    base = await _find_base(read, bases)
    models: list[Found] = []
    trouble = await _walk(read, base + len(MARKER), models)
    if not models:
        why = trouble or "its end follows at once"
        raise LinkError(f"a SunSpec map begins at register {base} but holds no model: {why}")
    return DeviceMap(base, tuple(models), trouble)


async def _find_base(read: Read, bases: Sequence[int]) -> int:
    """The first place with the marker. Devices refuse the other places, or do not answer there."""
    silence: LinkError | None = None
    answered = False
    for base in bases:
        try:
            words = await read(base, len(MARKER))
        except LinkLost:
            raise
        except Refused:
            answered = True
        except LinkError as fault:
            silence = fault
        else:
            answered = True
            if tuple(words) == MARKER:
                return base
    if silence is not None and not answered:
        raise silence
    places = ", ".join(map(str, bases))
    raise LinkError(
        f"the device answers but has no SunSpec map at register {places}; switch SunSpec on in the "
        "device, correct base_address or device_id, or read it through a device description"
    )


async def _walk(read: Read, address: int, models: list[Found]) -> str:
    """Add the models from here on; empty at the end marker, else why there is no going on."""
    counts: dict[int, int] = {}
    while len(models) < _MOST_MODELS:
        header = await _header(read, address)
        if isinstance(header, str):
            return f"{header} at register {address}, where a model or the end must stand"
        number, length = header
        if number == END_ID:
            return ""
        if number == 0:
            return f"register {address} holds no model and no end marker"
        if address + HEADER + length > LAST_ADDRESS:
            return f"model {number} at {address} states {length} registers, more than there can be"
        counts[number] = counts.get(number, 0) + 1
        models.append(Found(number, address, length, counts[number]))
        address += HEADER + length
    return f"more than {_MOST_MODELS} models"


async def _header(read: Read, address: int) -> tuple[int, int] | str:
    """Id and length. Some devices end with the marker alone, so that two registers are refused;
    some do not answer at all behind their last model, which takes a second try to believe."""
    if address >= LAST_ADDRESS:
        return "there is nothing"
    try:
        return await _pair(read, address)
    except LinkLost:
        raise
    except LinkError:
        try:
            return await _pair(read, address)
        except LinkLost:
            raise
        except LinkError:
            return _NO_ANSWER


async def _pair(read: Read, address: int) -> tuple[int, int] | str:
    try:
        number, length = await read(address, HEADER)
    except Refused as refusal:
        with contextlib.suppress(Refused):
            (number,) = await read(address, 1)
            if number == END_ID:
                return END_ID, 0
        return f"the device answers with {refusal}"
    return number, length
