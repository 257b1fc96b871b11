"""What is used of a device: its parts, their roles, and which point tells which quantity.

A plan is made once for a map, from the first look at each model and what the config says; then
every poll only turns the values of the models into figures. Nothing here reads or waits.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from adapters.adapter import DeviceSettings, SettingsError, owner_of
from adapters.checked_toml import meant, shown
from adapters.conversion import Conversion, Decoded, Doubt, Measurand
from adapters.sunspec.meanings import (
    BANK,
    HEARTBEAT,
    MEANINGS,
    PORT_ROLE,
    ROLES,
    UNUSED,
    USED_MODELS,
    USUAL_ROLE,
    Meaning,
    Several,
    Sign,
)
from adapters.sunspec.models import Placed, Value, Values, models, placed
from adapters.sunspec.walk import Found

#: The most cells one bank can have; as in `adapters.conversion`.
_MOST_CELLS: Final = 64

_PART: Final = re.compile(r"(\d+)(?:\.(\d+))?(?:/(\d+|dc))?")

#: Values of the models of a device at one moment; one that was not read is missing.
Seen = Mapping[Found, Values]


@dataclass(frozen=True, slots=True)
class Choices:
    """What the config says of a device: the roles of parts by their names, and the sign of its
    battery current (`positive`: "charging", "discharging", or "" while nobody knows)."""

    roles: Mapping[str, str] = field(default_factory=dict)
    positive: str = ""


class Part(NamedTuple):
    """One set of figures of a device; `side` and `group` as in `meanings` and `models`."""

    found: Found
    side: str
    group: int
    role: str

    @property
    def name(self) -> str:
        return part_name(self.found, self.side, self.group)


class Teller(NamedTuple):
    """A point that tells a measurand, in one part or, for the highest or lowest, in several."""

    measurand: Measurand
    meaning: Meaning
    parts: tuple[Part, ...]
    conversion: Conversion


@dataclass(frozen=True, slots=True)
class Plan:
    """`tellers` in order of preference; `asking` are currents of a sign that nobody told;
    `notes` say what is not used and why, `wrong` what the config must put right."""

    parts: tuple[Part, ...]
    tellers: tuple[Teller, ...]
    asking: tuple[Teller, ...]
    notes: tuple[str, ...]
    wrong: tuple[str, ...]

    @property
    def measurands(self) -> tuple[Measurand, ...]:
        return tuple(dict.fromkeys(teller.measurand for teller in self.tellers))

    def figures(self, seen: Seen) -> Decoded:
        """What the values say: for each measurand the first teller that can be believed."""
        decoded = Decoded()
        for teller in self.tellers:
            if teller.measurand in decoded.figures:
                continue
            value = value_of(teller, seen)
            if value is None:
                continue
            try:
                decoded.figures[teller.measurand] = _fact(teller, value)
            except Doubt as doubt:
                place = f"{teller.parts[0].name} {teller.meaning.point}"
                decoded.left_out[teller.measurand] = f"{teller.measurand}: {doubt} ({place})"
        for measurand in decoded.figures:
            decoded.left_out.pop(measurand, None)
        return decoded

    def points(self, found: Found, seen: Values) -> tuple[Placed, ...]:
        """The points of a model that a poll needs: those of its tellers, with what sizes, counts
        and proves them alive."""
        wanted = {(0, HEARTBEAT.get(found.id))}
        for teller in (*self.tellers, *self.asking):
            for part in teller.parts:
                if part.found == found:
                    wanted.add((part.group, teller.meaning.point))
        model = models()[found.id]
        at = {(p.group, p.point.name): p for p in placed(model, found.length, _told(found, seen))}
        chosen = {key: at[key] for key in wanted if key in at}
        if not chosen.keys() - {(0, HEARTBEAT.get(found.id))}:
            return ()
        for group, name in list(chosen):
            scale = at[group, name].point.scale
            if scale is not None:
                key = (group, scale) if (group, scale) in at else (0, scale)
                chosen.update({key: at[key]} if key in at else {})
        if model.group is not None and model.group.count is not None:
            chosen[0, model.group.count] = at[0, model.group.count]
        return tuple(sorted(chosen.values(), key=lambda place: place.offset))


def part_name(found: Found, side: str, group: int) -> str:
    again = f".{found.instance}" if found.instance > 1 else ""
    inner = f"/{group}" if group else "/dc" if side == "dc" else ""
    return f"{found.id}{again}{inner}"


def value_of(teller: Teller, seen: Seen) -> Value:
    """The value of a teller as the device counts it; of several parts the highest or lowest."""
    values = [
        seen[part.found].at(teller.meaning.point, part.group)
        for part in teller.parts
        if part.found in seen
    ]
    if teller.meaning.several not in (Several.HIGHEST, Several.LOWEST):
        return values[0] if values else None
    numbers = [value for value in values if isinstance(value, int | float)]
    # The highest of what was read is not the highest of all.
    if len(values) < len(teller.parts) or not numbers:
        return None
    return max(numbers) if teller.meaning.several is Several.HIGHEST else min(numbers)


def _fact(teller: Teller, value: Value) -> float | str:
    if teller.conversion.codes:
        return teller.conversion.fact_of_code(str(value))
    if not isinstance(value, int | float):
        raise Doubt("no number")
    number = abs(value) if teller.meaning.sign is Sign.SIZE else value
    if 0.0 < abs(number) < teller.meaning.least:
        raise Doubt(f"{number:.6g} is too small to be in this unit")
    return teller.conversion.fact_of_number(number)


def make_plan(seen: Seen, choices: Choices, settings: DeviceSettings) -> Plan:
    """The plan for a map, from the first look at its models (in their order)."""
    parts = tuple(_parts(seen, choices))
    tellers: list[Teller] = []
    asking: list[Teller] = []
    rivals: dict[Measurand, tuple[Part, ...]] = {}
    homeless: dict[str, str] = {}
    for meaning in MEANINGS:
        fitting = [part for part in parts if _fits(meaning, part)]
        for measurand, those in _shared_out(meaning, fitting, seen):
            if meaning.several is Several.NONE and len(those) > 1:
                rivals.setdefault(measurand, those)
                continue
            try:
                owner_of(settings, measurand.quantity, measurand.cell)
            except SettingsError as fault:
                homeless.setdefault(measurand.quantity.value, str(fault))
                continue
            teller = Teller(measurand, meaning, those, _conversion(meaning, measurand, choices))
            unknown = meaning.sign is Sign.ASK and not choices.positive
            (asking if unknown else tellers).append(teller)
    told = {teller.measurand for teller in tellers}
    unsaid = tuple(teller for teller in asking if teller.measurand not in told)
    notes, wrong = _sorted_notes(rivals, told, homeless)
    notes += _left_open(parts, choices)
    wrong += _asked(unsaid) + _misnamed(choices, parts)
    return Plan(parts, tuple(tellers), unsaid, tuple(notes), tuple(wrong))


def _parts(seen: Seen, choices: Choices) -> Iterator[Part]:
    for found, values in seen.items():
        if found.id not in USED_MODELS:
            continue
        for side in sorted({m.side for m in MEANINGS if found.id in m.models}):
            for group in range(1, len(values.groups) + 1) if side == "group" else (0,):
                usual = _usual_role(found, side, group, values)
                role = choices.roles.get(part_name(found, side, group), usual)
                yield Part(found, side, group, role)


def _usual_role(found: Found, side: str, group: int, values: Values) -> str:
    if found.id == 714:
        kind = values.at("PrtTyp", group)
        return PORT_ROLE.get(kind, UNUSED) if isinstance(kind, int) else UNUSED
    return USUAL_ROLE.get((found.id, side), UNUSED)


def _fits(meaning: Meaning, part: Part) -> bool:
    at = part.found.id in meaning.models and part.side == meaning.side
    return at and part.role == meaning.role


def _shared_out(
    meaning: Meaning, parts: list[Part], seen: Seen
) -> Iterator[tuple[Measurand, tuple[Part, ...]]]:
    """Each measurand of a row with the parts that tell it; cells are counted through."""
    if meaning.several is not Several.EACH:
        if parts:
            yield Measurand(meaning.quantity), tuple(parts)
        return
    cells = (
        part._replace(group=number)
        for part in parts
        for number in range(1, len(seen[part.found].groups) + 1)
    )
    for cell, part in zip(range(1, _MOST_CELLS + 1), cells, strict=False):
        yield Measurand(meaning.quantity, cell), (part,)


def _conversion(meaning: Meaning, measurand: Measurand, choices: Choices) -> Conversion:
    turned = meaning.sign is Sign.TURNED
    if meaning.sign is Sign.ASK:
        turned = choices.positive == "discharging"
    codes = {str(code): word for code, word in meaning.codes.items()}
    return Conversion(measurand, unit=meaning.unit, turned=turned, codes=codes)


def _sorted_notes(
    rivals: Mapping[Measurand, tuple[Part, ...]],
    told: Collection[Measurand],
    homeless: Mapping[str, str],
) -> tuple[list[str], list[str]]:
    """What is left unused: worth a line, or, where it is the bank's, worth a correction."""
    notes = list(homeless.values())
    wrong: list[str] = []
    grouped: dict[tuple[Part, ...], list[str]] = {}
    for measurand, parts in rivals.items():
        if measurand not in told:
            grouped.setdefault(parts, []).append(str(measurand))
    for parts, names in grouped.items():
        listed = ", ".join(part.name for part in parts)
        line = (
            f"{', '.join(names)} not used: told by {listed}; keep one and set the others to "
            f'"{UNUSED}" under [roles], as in "{parts[-1].name}" = "{UNUSED}"'
        )
        (wrong if parts[0].role == BANK else notes).append(line)
    return notes, wrong


def _left_open(parts: Iterable[Part], choices: Choices) -> list[str]:
    """Parts of which no model file says what they measure: a person must."""
    wanting = [p for p in parts if p.role == UNUSED and p.name not in choices.roles]
    listed = ", ".join(f"{p.name} ({', '.join(_roles_for(p.found.id, p.side))})" for p in wanting)
    if not wanting:
        return []
    first = wanting[0]
    role = _roles_for(first.found.id, first.side)[0]
    return [
        f"not used until the config says what it is: {listed}; as in "
        f'roles = {{ "{first.name}" = "{role}" }}'
    ]


def _roles_for(model: int, side: str) -> list[str]:
    """The roles that parts of this kind can play, in the order of `ROLES`."""
    known = {m.role for m in MEANINGS if model in m.models and m.side == side}
    return [role for role in ROLES if role in known]


def _asked(unsaid: Iterable[Teller]) -> list[str]:
    places = ", ".join(f"{teller.parts[0].name} {teller.meaning.point}" for teller in unsaid)
    if not places:
        return []
    return [
        f"bank_amps not used: the standard does not say which sign of {places} is charging; with "
        'the charger on and the loads off, add positive = "charging" if the figure is positive '
        'then, else positive = "discharging"'
    ]


def _misnamed(choices: Choices, parts: tuple[Part, ...]) -> list[str]:
    names = [part.name for part in parts]
    return [
        f'roles: this device has no part "{name}" (it has {", ".join(names) or "none"})'
        for name in choices.roles
        if name not in names
    ]


def _told(found: Found, values: Values) -> Value:
    group = models()[found.id].group
    return values.at(group.count) if group is not None and group.count is not None else None


def read_roles(given: object, where: str) -> dict[str, str]:
    """The table `roles` of a config, checked as far as it can be without the device."""
    if given is None:
        return {}
    if not isinstance(given, Mapping):
        raise SettingsError(
            f"{where}, key roles: expected a table of parts and roles, as in "
            f'roles = {{ "714/1" = "bank" }}; found {shown(given)}'
        )
    for name, role in given.items():
        _check_role(str(name), role, f"{where}, key roles")
    return {str(name): str(role) for name, role in given.items()}


def _check_role(name: str, role: object, where: str) -> None:
    part = _PART.fullmatch(name)
    if part is None:
        raise SettingsError(
            f"{where}: {shown(name)}: expected the name of a part: a model and, after /, its port "
            'or dc, as in "802", "714/1" or "103/dc"'
        )
    model, inner = int(part[1]), part[3]
    side = "" if inner is None else "dc" if inner == "dc" else "group"
    known = _roles_for(model, side)
    if not known:
        sides = sorted({m.side for m in MEANINGS if model in m.models})
        wants = {"": f'"{model}"', "group": f'"{model}/1"', "dc": f'"{model}/dc"'}
        hint = " or ".join(wants[s] for s in sides) or "of no use here"
        raise SettingsError(f"{where}: {shown(name)}: model {model} is named {hint}")
    fitting = [*known, UNUSED]
    if role not in fitting:
        advice = meant(str(role), fitting)
        raise SettingsError(
            f"{where}, {shown(name)}: expected one of {', '.join(fitting)}; "
            f"found {shown(role)}{advice}"
        )
