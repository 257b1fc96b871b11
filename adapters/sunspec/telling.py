"""A SunSpec device in words, for those who set it up: who it is, its models, what is used."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from adapters.sunspec.meanings import UNUSED
from adapters.sunspec.models import Value, models
from adapters.sunspec.plan import Part, Plan, Seen, Teller, value_of
from adapters.sunspec.walk import DeviceMap, Found

#: What model 1 says of the device, in this order.
_IDENTITY: Final = ("Mn", "Md", "Opt", "Vr", "SN")

#: Models from here on belong to one maker each (SunSpec model numbering).
_OWN_MODELS: Final = 64_001


def described(found_map: DeviceMap, seen: Seen, plan: Plan) -> tuple[str, ...]:
    """One line for the device, one for each model, and one for whatever needs a word."""
    return tuple(_lines(found_map, seen, plan))


def _lines(found_map: DeviceMap, seen: Seen, plan: Plan) -> Iterator[str]:
    yield f"SunSpec map at register {found_map.base}: {identity(seen) or 'it gives no name'}"
    for found in found_map.models:
        yield _model(found, plan)
    for teller in plan.asking:
        value = value_of(teller, seen)
        if value is not None:
            yield f"{_place(teller)} is {_figure(value)} A now, of unknown sign: not used"
    yield from plan.notes


def identity(seen: Seen) -> str:
    """Maker, model, options, version and serial number, as far as the device gives them."""
    for found, values in seen.items():
        if found.id == 1:
            texts = (values.at(name) for name in _IDENTITY)
            return ", ".join(text for text in texts if isinstance(text, str))
    return ""


def _model(found: Found, plan: Plan) -> str:
    known = models().get(found.id)
    what = f"{found}, {found.length} registers"
    if known is None:
        kind = "of one maker's own" if found.id >= _OWN_MODELS else "not read here"
        return f"{what}: {kind}, passed over"
    parts = [part for part in plan.parts if part.found == found]
    roles = ", ".join(_role(part) for part in parts)
    return f"{what}: {known.name}{roles and ', ' + roles}"


def _role(part: Part) -> str:
    used = "not used" if part.role == UNUSED else f"used as {part.role}"
    return f"{part.name} {used}"


def _place(teller: Teller) -> str:
    return f"{teller.parts[0].name} {teller.meaning.point}"


def _figure(value: Value) -> str:
    return f"{value:.5g}" if isinstance(value, int | float) else str(value)
