"""What the devices say of a bank, its sources, their AC side and its cells, value by value.

The rooms take from this what they need; a person who looks at an installation wants all of it, each
value with its age, and those that are too old with the reason.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from adapters.reading import Quantity
from monitor.engine.duration import duration

if TYPE_CHECKING:
    from monitor.engine.engine import Engine


class Said(NamedTuple):
    """One value of one device. `cell` counts from 1, None where it is not a cell's.

    `figure` is None where the last one is too old to stand for now; `reason` says why.
    """

    device: str
    owner: str
    cell: int | None
    quantity: Quantity
    figure: float | str | None
    age_seconds: float
    reason: str = ""


def said_of(engine: Engine, bank_id: str) -> tuple[Said, ...]:
    """Everything that was ever said of one bank, in the order of the devices; KeyError if there is
    no such bank."""
    rooms = next((rooms for rooms in engine.banks if rooms.bank.id == bank_id), None)
    if rooms is None:
        raise KeyError(bank_id)
    owners = {bank_id, *(room.source.id for room in rooms.sources)}
    now, found = engine.seconds or 0.0, []
    for device in engine.alignment.devices.values():
        for channel, given in device.given.items():
            owner, _, cell = channel.owner.partition("#")
            if given is None or not given.heard or owner not in owners:
                continue
            age = max(0.0, now - given.seconds)
            fresh = device.up and age <= device.limit
            silent = "" if device.up else f"{device.name} is silent, "
            found.append(
                Said(
                    device.name,
                    owner,
                    int(cell) if cell.isdecimal() else None,
                    channel.quantity,
                    given.figure if fresh else None,
                    age,
                    "" if fresh else f"{silent}last {duration(age)} ago",
                )
            )
    return tuple(found)
