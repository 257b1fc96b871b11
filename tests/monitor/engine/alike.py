"""Are two engines alike in everything they hold? Attribute by attribute, and in what they share.

`differences` walks both at once. What a restored engine does not hold as the first one does will
one day make it go another way, so the walk skips only `SCRATCH`: figures that are written before
they are read in every step. A room that is shared in one engine must be shared in the other: two
copies of one thing look alike until the next step.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

#: Scratch by (class, attribute), each with the reason why no state needs it.
SCRATCH: Final = {
    # scores are worked out anew from the features before a stage is weighed
    ("Scores", "now"),
    ("Scores", "floats"),
    ("Scores", "_still"),
    # decided anew at every reading, and read in the same step only
    ("ChargeFilter", "full_now"),
    # handed in with every reading, and used within that step only
    ("BankRooms", "wall_offset"),
    # the circuit on which a forecast is tried takes its figures from the bank's before each run
    ("Forecast", "_trial"),
}

_PLAIN: Final = (int, float, str, bool, type(None))


def attributes(thing: object) -> dict[str, Any]:
    """Everything an object holds, in `__dict__` or in slots."""
    found = dict(getattr(thing, "__dict__", {}))
    for kind in type(thing).__mro__:
        slots = kind.__dict__.get("__slots__", ())
        for name in (slots,) if isinstance(slots, str) else slots:
            if hasattr(thing, name):
                found[name] = getattr(thing, name)
    return found


def differences(one: Any, other: Any) -> list[str]:
    """Every value that differs, by its path; empty where the two are alike."""
    return list(_walk(one, other, "engine", {}))


def skipped(thing: Any) -> set[tuple[str, str]]:
    """Which of `SCRATCH` a walk of this engine meets."""
    met: set[tuple[str, str]] = set()
    _meet(thing, met, set())
    return met


def _walk(one: Any, other: Any, path: str, pairs: dict[int, Any]) -> Iterator[str]:
    if isinstance(one, _PLAIN) or isinstance(other, _PLAIN):
        if type(one) is not type(other) or not (one == other or one != one != other):
            yield f"{path}: {one!r} is not {other!r}"
        return
    if callable(one):
        return
    if id(one) in pairs:
        if pairs[id(one)] is not other:
            yield f"{path}: shared in the one engine, not in the other"
        return
    pairs[id(one)] = other
    if type(one) is not type(other):
        yield f"{path}: a {type(one).__name__} is not a {type(other).__name__}"
        return
    mine, theirs = _inside(one), _inside(other)
    if list(mine) != list(theirs):
        yield f"{path}: {list(mine)} are not {list(theirs)}"
        return
    for name, value in mine.items():
        yield from _walk(value, theirs[name], f"{path}{name}", pairs)


def _inside(thing: Any) -> dict[str, Any]:
    """What is inside, by the words that lead to it."""
    if isinstance(thing, list | tuple):
        return {f"[{n}]": value for n, value in enumerate(thing)}
    if isinstance(thing, dict):
        return {f"[{key!r}]": value for key, value in thing.items()}
    if isinstance(thing, set | frozenset):
        return {f"[{n}]": value for n, value in enumerate(sorted(thing, key=repr))}
    kind = type(thing).__name__
    return {
        f".{name}": value
        for name, value in sorted(attributes(thing).items())
        if (kind, name) not in SCRATCH
    }


def _meet(thing: Any, met: set[tuple[str, str]], seen: set[int]) -> None:
    if isinstance(thing, _PLAIN) or callable(thing) or id(thing) in seen:
        return
    seen.add(id(thing))
    kind = type(thing).__name__
    met.update((kind, name) for name in attributes(thing) if (kind, name) in SCRATCH)
    for value in _inside(thing).values():
        _meet(value, met, seen)
