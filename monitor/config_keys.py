"""The keys of the configuration file, as data: what each may hold, and what to say if it does not.

Limits catch a slip of the pen (another unit, percent for a fraction, a decimal point), never an
unusual but possible installation: judging an installation is the engine's work, not this file's.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, NamedTuple

from adapters.checked_toml import key_lines, shown
from adapters.reading import OwnLink
from monitor.bank import Chemistry, SourceKind
from monitor.chemistries import CHEMISTRIES

Path = tuple[str, ...]

#: What the tool watches of itself is told like devices' links, so no device may take the names.
OWN_NAMES: Final = {
    OwnLink.RECORDER: "the recorder's name",
    OwnLink.DISK: "the name of the disk's own link",
    OwnLink.HEARTBEAT: "the name of the sign of life",
}


class Refused(Exception):
    """A value that cannot be; the text says what to do instead, or is empty."""


class Key(NamedTuple):
    """What a key may hold: in words, and as a reader that gives the value or raises `Refused`."""

    expected: str
    read: Callable[[object], Any]


class ConfigError(Exception):
    """What is wrong with a configuration, a line for each problem; the text is the first."""

    def __init__(self, problems: tuple[str, ...]) -> None:
        self.problems = problems
        more = len(problems) - 1
        super().__init__(problems[0] + (f" (and {more} more)" if more else ""))


@dataclass(slots=True)
class Problems:
    """Gathers what is wrong with one text, each with its place."""

    name: str
    lines: Mapping[tuple[str | int, ...], int]
    found: list[str] = field(default_factory=list)

    @classmethod
    def of(cls, name: str, text: str) -> Problems:
        return cls(name, key_lines(text))

    def place(self, path: Path) -> str:
        return f"{self.name}:{self._line(path)}"

    def _line(self, path: Path) -> int:
        """The line of a key or table, else of the first table below it, else of that around it."""
        if path in self.lines:
            return self.lines[path]
        below = [line for key, line in self.lines.items() if path and key[: len(path)] == path]
        if below:
            return min(below)
        return self._line(path[:-1]) if path else 1

    def add(self, path: Path, expected: str, found: str, advice: str = "") -> None:
        where = f"{self.place(path)}: {'.'.join(path)}: " if path else f"{self.name}:1: "
        self.found.append(f"{where}expected {expected}, found {found}{advice and '; ' + advice}")

    def check(self) -> None:
        if self.found:
            raise ConfigError(tuple(self.found))


def nearest(wrong: str, known: Iterable[str]) -> str:
    """Advice on a word that is not known: the nearest one that is, else all of them."""
    words = list(known)
    return _meant(wrong, words) or (f"known are {', '.join(words)}" if words else "")


def _meant(wrong: str, words: Iterable[str]) -> str:
    close = _closest(wrong, words)
    return f'did you mean "{close}"?' if close else ""


def _closest(wrong: str, words: Iterable[str]) -> str:
    return next(iter(difflib.get_close_matches(wrong.lower(), words, n=1, cutoff=0.5)), "")


def say_which(wrong: str) -> str:
    """Advice on a word for a battery that is true of several kinds, whose voltages differ."""
    return _SAY_WHICH.get(" ".join(wrong.lower().replace("-", " ").replace("_", " ").split()), "")


_OF_LEAD: Final = "say which: flooded, gel, agm or lead-calcium, it is printed on the label"
_OF_SEALED: Final = "say which: gel or agm, it is printed on the label"
_OF_LITHIUM: Final = "of lithium batteries only lfp, lithium iron phosphate, is known"
#: A guess between these by their spelling would set wrong voltages.
_SAY_WHICH: Final[Mapping[str, str]] = {
    **dict.fromkeys(("lead", "lead acid", "leadacid", "acid", "pb"), _OF_LEAD),
    **dict.fromkeys(("sealed", "sealed lead", "sealed lead acid", "vrla", "sla"), _OF_SEALED),
    **dict.fromkeys(("wet", "wet cell", "wet lead"), 'did you mean "flooded"?'),
    **dict.fromkeys(("lithium", "lithium ion", "li ion", "liion", "li"), _OF_LITHIUM),
    **dict.fromkeys(("lifepo4", "lithium iron phosphate", "life"), 'did you mean "lfp"?'),
}


def read_table(
    table: Mapping[str, object],
    keys: Mapping[str, Key],
    path: Path,
    problems: Problems,
    required: tuple[str, ...] = (),
) -> dict[str, Any]:
    """The values of a table that are as they should be; everything else becomes a problem.

    A required key that a misspelt one was meant to be is not told as missing as well.
    """
    values: dict[str, Any] = {}
    misspelt = set()
    for name, value in table.items():
        key = keys.get(name)
        if key is None:
            kind = f"a key of {'.'.join(path)}" if path else "a table of the configuration"
            advice = _ELSEWHERE.get((path[:1], name), "")
            if not advice:
                advice = nearest(name, keys)
                misspelt.add(_closest(name, keys))
            problems.add((*path, name), kind, f'the unknown "{name}"', advice)
            continue
        try:
            values[name] = key.read(value)
        except Refused as refused:
            problems.add((*path, name), key.expected, shown(value), str(refused))
    for name in required:
        if name not in table and name not in misspelt:
            problems.add((*path, name), keys[name].expected, "nothing", f"add a line {name} = ...")
    return values


def number(expected: str, low: float, high: float, hint: str = "", *, above: bool = False) -> Key:
    """A number from `low` to `high`; with `above`, `low` itself is refused."""

    def read(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise Refused(_bare_number(value))
        if not (low < value <= high if above else low <= value <= high):
            raise Refused(hint)
        return float(value)

    return Key(expected, read)


def whole(expected: str, low: int, high: int) -> Key:
    def read(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise Refused(_bare_number(value))
        if not low <= value <= high:
            raise Refused("")
        return value

    return Key(expected, read)


def one_of(expected: str, choices: Mapping[Any, Any]) -> Key:
    def read(value: object) -> Any:
        if isinstance(value, (str, int)) and not isinstance(value, bool) and value in choices:
            return choices[value]
        # What is expected has told all of them already.
        if not isinstance(value, str) or not _words(choices):
            raise Refused("")
        raise Refused((choices is CHEMISTRIES and say_which(value)) or _meant(value, choices))

    return Key(expected, read)


def text(expected: str) -> Key:
    def read(value: object) -> str:
        if not isinstance(value, str) or not value.strip():
            raise Refused("write it between quotes")
        return value

    return Key(expected, read)


def truth(value: object) -> bool:
    if not isinstance(value, bool):
        raise Refused("write true or false, without quotes")
    return value


def span(expected: str, low: float, high: float) -> Key:
    def read(value: object) -> tuple[float, float]:
        if not isinstance(value, list) or len(value) != 2:
            raise Refused("write two numbers: [0, 50]")
        if any(isinstance(end, bool) or not isinstance(end, (int, float)) for end in value):
            raise Refused("write two numbers: [0, 50]")
        first, last = float(value[0]), float(value[1])
        if not low <= first < last <= high:
            raise Refused("the lower end comes first")
        return first, last

    return Key(expected, read)


def tables(kind: str) -> Key:
    """A table of tables, each with a name that can be the id of something."""

    def read(value: object) -> dict[str, dict[str, object]]:
        if not isinstance(value, dict):
            doubled = isinstance(value, list)
            raise Refused(f"single brackets and a name: [{kind}.main]" if doubled else "")
        for name, inner in value.items():
            if not isinstance(inner, dict):
                raise Refused(f"each needs a name of its own, as in [{kind}.main]")
            if not name or not all(c.isalnum() or c in "-_" for c in name):
                raise Refused(f'"{name}" is no name: use letters, digits, - and _')
        return value

    return Key(f"tables [{kind}.NAME]", read)


def table(expected: str) -> Key:
    def read(value: object) -> dict[str, object]:
        if not isinstance(value, dict):
            raise Refused("")
        return value

    return Key(expected, read)


def _words(choices: Mapping[Any, Any]) -> bool:
    return all(isinstance(choice, str) for choice in choices)


def _bare_number(value: object) -> str:
    return "write the number alone, without quotes or unit" if isinstance(value, str) else ""


_FRACTION = "write a fraction: 0.5 for 50 %"

TOP: Final[Mapping[str, Key]] = {
    "site": table("a table [site]"),
    "banks": tables("banks"),
    "sources": tables("sources"),
    "devices": tables("devices"),
    "limits": table("tables [limits.CONDITION]"),
    "notify": table("a table [notify]"),
    "computer": table("a table [computer]"),
    "lay_up": table("a table [lay_up]"),
    "history": table("a table [history]"),
    "mqtt": table("a table [mqtt]"),
}

SITE: Final[Mapping[str, Key]] = {
    "latitude": number("degrees from -90 (south) to 90 (north)", -90.0, 90.0),
    "longitude": number("degrees from -180 (west) to 180 (east)", -180.0, 180.0),
}

#: Capacity and layout: no house bank is larger (common practice: up to a few thousand Ah).
BANK: Final[Mapping[str, Key]] = {
    "chemistry": one_of(f"one of {', '.join(CHEMISTRIES)}", CHEMISTRIES),
    "nominal_volts": one_of("12, 24 or 48", {12: 12, 24: 24, 48: 48}),
    "amp_hours": number(
        "amp-hours of the whole bank at 20 h, above 0 up to 20000", 0.0, 20000.0, above=True
    ),
    "series": whole("batteries in series, 1 to 24", 1, 24),
    "parallel": whole("strings in parallel, 1 to 64", 1, 64),
    "lowest_soc": number("a fraction from 0 up to 0.95", 0.0, 0.95, _FRACTION),
    "standing_amps": number("amps from 0 to 50", 0.0, 50.0, "a draw is written without a sign"),
    "set_points": table("a table [banks.NAME.set_points]"),
    "cable_amps": number("amps above 0 up to 2000", 0.0, 2000.0, above=True),
    "fuse_amps": number("amps above 0 up to 2000", 0.0, 2000.0, above=True),
    "inverter_cut_off_volts": number("volts of the whole bank above 0", 0.0, 60.0, above=True),
    "protection": table("a table [banks.NAME.protection]"),
    "limits": table("tables [banks.NAME.limits.CONDITION]"),
}

#: Where an LFP battery's own protection opens: beyond these no cell lives (cell data sheets).
PROTECTION: Final[Mapping[str, Key]] = {
    "high_cell_volts": number("volts of one cell from 3.4 to 4.2", 3.4, 4.2, "it is per cell"),
    "low_cell_volts": number("volts of one cell from 2.0 to 3.2", 2.0, 3.2, "it is per cell"),
    "low_celsius": number("°C from -30 to 15", -30.0, 15.0),
    "high_celsius": number("°C from 35 to 80", 35.0, 80.0),
}

_PER_CELL = "it is per cell: -24 mV of a 12 V lead bank is -4"

#: Volts are checked once the cells are known, by `set_point_volts`.
SET_POINTS: Final[Mapping[str, Key]] = {
    "absorption": number("volts of the whole bank at 25 °C", 0.0, 100.0, above=True),
    "float": number("volts of the whole bank at 25 °C", 0.0, 100.0, above=True),
    "low_hold": number("volts of the whole bank at 25 °C", 0.0, 100.0, above=True),
    "equalize": number("volts of the whole bank at 25 °C", 0.0, 100.0, above=True),
    "compensation_mv_per_celsius_per_cell": number(
        "millivolts per °C and cell from -8 to 0", -8.0, 0.0, _PER_CELL
    ),
    "compensation_celsius": span("two temperatures within -40 to 90 °C", -40.0, 90.0),
    "end_of_charge_amps": number("amps above 0 up to 1000", 0.0, 1000.0, above=True),
    "end_of_charge_seconds": number(
        "seconds from 0 to 14400", 0.0, 14400.0, "it is in seconds: 60 is a minute"
    ),
    "absorption_hours": number(
        "hours above 0 up to 24", 0.0, 24.0, "it is in hours: 4, not 240", above=True
    ),
}

SOURCE: Final[Mapping[str, Key]] = {
    "bank": text("the name of a bank"),
    "kind": one_of(
        f"one of {', '.join(kind.value for kind in SourceKind)}",
        {kind.value: kind for kind in SourceKind},
    ),
    "rated_amps": number("amps above 0 up to 1000", 0.0, 1000.0, above=True),
    "cable_amps": number("amps above 0 up to 2000", 0.0, 2000.0, above=True),
    "fuse_amps": number("amps above 0 up to 2000", 0.0, 2000.0, above=True),
    "ac_volts": number("nominal AC volts from 100 to 240", 100.0, 240.0),
    "ac_expected": Key("true or false", truth),
    "limits": table("tables [sources.NAME.limits.CONDITION]"),
}

#: What every device has; other keys are options of its adapter, which checks them itself.
DEVICE: Final[Mapping[str, Key]] = {
    "adapter": text("the name of an adapter"),
    "description": text("the file name of a device description"),
    "bank": text("the name of a bank"),
    "source": text("the name of a source"),
    "bind": table("a table [devices.NAME.bind]"),
}


#: Keys that are right but stand in the wrong table.
_ELSEWHERE: Final[Mapping[tuple[Path, str], str]] = {
    **{
        (("banks",), name): "it belongs in the table [banks.NAME.set_points]" for name in SET_POINTS
    },
    **{
        ((), name): f"it belongs in a table [{where}]"
        for where, names in (
            ("devices.NAME", (*DEVICE, "port", "host")),
            ("sources.NAME", (*SOURCE,)),
            ("banks.NAME.set_points", (*SET_POINTS,)),
            ("banks.NAME", (*BANK,)),
            ("site", (*SITE,)),
        )
        for name in names
        if name not in TOP and f"{name}s" not in TOP  # [bank] is meant as [banks.NAME]
    },
}


def set_point_volts(chemistry: Chemistry) -> tuple[float, float]:
    """Volts per cell at 25 °C between which a set-point can lie at all.

    A good 0.2 V per cell beyond the highest and lowest of the chemistry table: outside is another
    bank voltage or a slip (common practice).
    """
    return (2.0, 2.9) if chemistry.lead else (3.0, 3.8)
