"""Keeping what the rooms of the engine have learned, as plain JSON.

A room is an object with a class attribute `KEPT`: the names of everything it carries from one
input to the next. `dump` reads them, `restore` puts them back into a freshly built room, and the
cut-anywhere test proves that nothing was left out. Values are floats, ints, strings, booleans,
None, lists of these, or rooms again. Not-a-number and infinities do not belong in a state.
"""

from __future__ import annotations

from typing import Any, ClassVar, Protocol

Json = dict[str, Any]


class Room(Protocol):
    """Something with a memory. Everything that `KEPT` does not name follows from the site."""

    KEPT: ClassVar[tuple[str, ...]]


def dump(room: Room) -> Json:
    """The room's memory as plain JSON."""
    return {name: _plain(getattr(room, name)) for name in room.KEPT}


def restore(room: Room, state: Json) -> None:
    """Put a memory back into a room built for the same site; KeyError where a name is missing."""
    for name in room.KEPT:
        value = state[name]
        present = getattr(room, name)
        if hasattr(present, "KEPT"):
            restore(present, value)
        elif isinstance(present, list) and present and hasattr(present[0], "KEPT"):
            for inner, inner_state in zip(present, value, strict=True):
                restore(inner, inner_state)
        else:
            setattr(room, name, _copy(value))


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
