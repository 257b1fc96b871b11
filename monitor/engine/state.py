"""Keeping what the rooms of the engine have learned, as plain JSON.

A room is an object with a class attribute `KEPT`: the names of everything it carries from one
input to the next. `dump` reads them, `restore` puts them back into a freshly built room, and the
cut-anywhere test proves that nothing was left out. Values are floats, ints, strings, booleans,
None, lists of these, or rooms again. Not-a-number and infinities do not belong in a state.
"""

from __future__ import annotations

from math import isfinite
from typing import Any, ClassVar, Protocol

Json = dict[str, Any]


class Room(Protocol):
    """Something with a memory. Everything that `KEPT` does not name follows from the site."""

    KEPT: ClassVar[tuple[str, ...]]


def dump(room: Room) -> Json:
    """The room's memory as plain JSON."""
    return {name: _plain(getattr(room, name)) for name in room.KEPT}


def restore(room: Room, state: Json) -> None:
    """Put a memory back into a room built for the same site.

    KeyError where a name is missing, ValueError where a value is not of the kind that the fresh
    room has there: a file that somebody edited must not fail an hour later, in a step.
    """
    for name in room.KEPT:
        value = state[name]
        present = getattr(room, name)
        if hasattr(present, "KEPT"):
            restore(present, value)
        elif isinstance(present, list) and present and hasattr(present[0], "KEPT"):
            for inner, inner_state in zip(present, value, strict=True):
                restore(inner, inner_state)
        elif _alike(present, value):
            setattr(room, name, _copy(value))
        else:
            raise ValueError(f"{name} cannot be {value!r}")


def _alike(present: Any, value: Any) -> bool:
    """Can `value` stand where `present` stands? What is None at first may be anything plain."""
    if present is None:
        return True
    if isinstance(present, bool):
        return isinstance(value, bool)
    if isinstance(present, int | float):
        number = isinstance(value, int | float) and not isinstance(value, bool)
        return number and isfinite(value)
    if isinstance(present, list):
        if not isinstance(value, list):
            return False
        fixed = bool(present) and all(isinstance(item, float) for item in present)
        return not fixed or (len(value) == len(present) and all(map(_alike, present, value)))
    return isinstance(value, type(present))


def _plain(value: Any) -> Any:
    if hasattr(value, "KEPT"):
        return dump(value)
    if isinstance(value, list):
        return [_plain(item) for item in value]
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    return value


def _copy(value: Any) -> Any:
    if isinstance(value, list):
        return [_copy(item) for item in value]
    if isinstance(value, dict):
        return {key: _copy(item) for key, item in value.items()}
    return value
