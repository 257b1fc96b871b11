"""TOML that a person wrote, read with every error naming file, line, key, expected and found.

`tomllib` keeps no line numbers, so `key_lines` finds them again in the text. `Section` then gives
typed access to one table: each call takes a key out, checks it, and `done` refuses what is left
over, so that a misspelt key is never ignored in silence.

All errors are `SettingsError`, one line each::

    shunt.toml line 12: [registers] number 2, key unit: expected one of V, mV, kV; found "A"
"""

from __future__ import annotations

import difflib
import math
import re
import sys
import tomllib
from collections.abc import Iterable, Mapping

from adapters.adapter import SettingsError

Path = tuple[str | int, ...]

_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\]]+?)\s*\]\]?\s*(#.*)?$")
_KEY = re.compile(r"""^\s*((?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*[A-Za-z0-9_-]+)*)\s*=""")
_STRING = re.compile(r'"(?:\\.|[^"\\])*"|\'[^\']*\'')
_QUOTES = ('"""', "'''")
#: No whole number of a configuration needs more, and thousands of digits cannot even be printed.
_LONGEST_BITS = 128
_LARGEST = sys.float_info.max


def _names(dotted: str) -> tuple[str, ...]:
    return tuple(part.strip().strip("\"'") for part in dotted.split("."))


def key_lines(text: str) -> dict[Path, int]:
    """The line (counted from 1) on which each table and key of a TOML text begins.

    Arrays of tables are counted from 0 in the path: `("registers", 1, "unit")`. Good enough to
    point a person at the place; odd spellings (a dotted name inside quotes) are merely not found.
    """
    lines: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    table: Path = ()
    open_quote, depth = "", 0
    for number, line in enumerate(text.splitlines(), start=1):
        if open_quote:
            if open_quote in line:
                open_quote = ""
            continue
        if depth <= 0:
            depth = 0
            if header := _HEADER.match(line):
                table = _table_path(header[1], _names(header[2]), counts)
                lines.setdefault(table, number)
                continue
            if key := _KEY.match(line):
                lines.setdefault((*table, *_names(key[1])), number)
        open_quote = _left_open(line)
        bare = _STRING.sub("", line).split("#", 1)[0]
        depth += bare.count("[") + bare.count("{") - bare.count("]") - bare.count("}")
    return lines


def _table_path(bracket: str, names: tuple[str, ...], counts: dict[Path, int]) -> Path:
    path: Path = ()
    for depth, name in enumerate(names):
        path = (*path, name)
        if bracket == "[[" and depth == len(names) - 1:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path


def _left_open(line: str) -> str:
    """The triple quote that a line opens and does not close, or nothing."""
    for quote in _QUOTES:
        if line.count(quote) % 2:
            return quote
    return ""


def shown(value: object) -> str:
    """A value as a person typed it, short enough for one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        text = '"' + value.encode("unicode_escape").decode("ascii") + '"'
    elif isinstance(value, Mapping):
        text = "a table"
    elif isinstance(value, list):
        text = "[" + ", ".join(shown(item) for item in value) + "]"
    elif isinstance(value, int) and value.bit_length() > _LONGEST_BITS:
        text = "a number of far too many digits"
    else:
        text = str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def meant(word: str, known: Iterable[str]) -> str:
    """`; did you mean "unit"?` when a known word is close, else nothing."""
    close = difflib.get_close_matches(word, list(known), n=1)
    return f'; did you mean "{close[0]}"?' if close else ""


class Section:
    """One table of a TOML file. Keys are taken out one by one; `done` refuses the rest."""

    def __init__(
        self, table: Mapping[str, object], file: str, lines: Mapping[Path, int], path: Path = ()
    ) -> None:
        self._table = dict(table)
        self._taken: list[str] = []
        self._file = file
        self._lines = lines
        self._path = path

    def error(self, key: str | None, problem: str) -> SettingsError:
        """The error for this table or one of its keys; the caller raises it."""
        path = self._path if key is None else (*self._path, key)
        line = self._lines.get(path) or self._lines.get(self._path)
        place = f"{self._file} line {line}" if line else self._file
        spot = [part for part in (self._words(), key and f"key {key}") if part]
        return SettingsError(f"{place}: {', '.join(spot)}{': ' if spot else ''}{problem}")

    def _words(self) -> str:
        names = ".".join(part for part in self._path if isinstance(part, str))
        if self._path and isinstance(self._path[-1], int):
            return f"[{names}] number {self._path[-1] + 1}"
        return f"[{names}]" if names else ""

    def line(self, key: str | None = None) -> int | None:
        """The line of this table or of a key, where known."""
        path = self._path if key is None else (*self._path, key)
        return self._lines.get(path)

    def has(self, key: str) -> bool:
        return key in self._table

    def take(self, key: str) -> object | None:
        """The value as TOML gave it, or None when the key is absent."""
        self._taken.append(key)
        return self._table.pop(key, None)

    def _needed(self, key: str, value: object | None, expected: str) -> object:
        if value is None:
            raise self.error(None, f"expected a key {key} ({expected}); found none")
        return value

    def text(self, key: str, default: str | None = None, expected: str = "text") -> str:
        """Text; required when `default` is None."""
        value = self.take(key)
        if value is None and default is not None:
            return default
        if not isinstance(self._needed(key, value, expected), str):
            raise self.error(key, f"expected {expected} in quotes; found {shown(value)}")
        return str(value)

    def choice(self, key: str, known: Iterable[str], default: str | None = None) -> str:
        """One of the known words."""
        words = list(known)
        expected = "one of " + ", ".join(words)
        value = self.text(key, default, expected)
        if value not in words:
            raise self.error(key, f"expected {expected}; found {shown(value)}{meant(value, words)}")
        return value

    def number(
        self,
        key: str,
        default: float | None = None,
        *,
        low: float = -math.inf,
        high: float = math.inf,
    ) -> float:
        """A finite number within bounds."""
        value = self.take(key)
        if value is None and default is not None:
            return default
        expected = "a number" + _bounds(low, high)
        found = self._needed(key, value, expected)
        if isinstance(found, bool) or not isinstance(found, int | float):
            raise self.error(key, f"expected {expected}; found {shown(found)}")
        if not low <= found <= high or abs(found) > _LARGEST:  # not a number is not within either
            raise self.error(key, f"expected {expected}; found {shown(found)}")
        return float(found)

    def whole(self, key: str, default: int | None = None, *, low: int, high: int) -> int:
        """A whole number within bounds."""
        value = self.take(key)
        if value is None and default is not None:
            return default
        expected = "a whole number" + _bounds(low, high)
        found = self._needed(key, value, expected)
        if isinstance(found, bool) or not isinstance(found, int) or not low <= found <= high:
            raise self.error(key, f"expected {expected}; found {shown(found)}")
        return found

    def flag(self, key: str, default: bool) -> bool:
        """true or false."""
        value = self.take(key)
        if value is None:
            return default
        if not isinstance(value, bool):
            raise self.error(key, f"expected true or false; found {shown(value)}")
        return value

    def items(self, key: str, expected: str) -> list[object]:
        """A list, empty when the key is absent; a single value counts as a list of one."""
        value = self.take(key)
        if value is None:
            return []
        if isinstance(value, Mapping):
            raise self.error(key, f"expected {expected}; found a table")
        return list(value) if isinstance(value, list) else [value]

    def word_map(self, key: str, expected: str) -> dict[str, str]:
        """A table of texts, empty when the key is absent."""
        value = self.take(key)
        if value is None:
            return {}
        if not isinstance(value, Mapping) or not all(isinstance(v, str) for v in value.values()):
            raise self.error(key, f"expected {expected}; found {shown(value)}")
        return {str(name): str(word) for name, word in value.items()}

    def sections(self, key: str, expected: str) -> list[Section]:
        """Every `[[key]]` table; at least one is needed."""
        value = self.take(key)
        if value is None:
            raise self.error(None, f"expected {expected}; found none")
        if not isinstance(value, list) or not all(isinstance(item, Mapping) for item in value):
            raise self.error(key, f"expected {expected}; found {shown(value)}")
        if not value:
            raise self.error(key, f"expected {expected}; found an empty list")
        return [
            Section(item, self._file, self._lines, (*self._path, key, index))
            for index, item in enumerate(value)
        ]

    def done(self) -> None:
        """Refuse keys that nobody asked for."""
        for key in self._table:
            known = ", ".join(self._taken)
            raise self.error(key, f"unknown key{meant(key, self._taken)} (known here: {known})")


def _bounds(low: float, high: float) -> str:
    if math.isinf(low) and math.isinf(high):
        return ""
    if math.isinf(high):
        return f", at least {low:g}"
    return f" from {low:g} to {high:g}"


def read_toml(text: str, file: str) -> Section:
    """The whole file as a section; a TOML mistake becomes a one-line `SettingsError`."""
    try:
        table = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as mistake:
        words = str(mistake)
        where = re.search(r"\(at line (\d+), column (\d+)\)", words)
        line = f" line {where[1]}" if where else ""
        column = f" (column {where[2]})" if where else ""
        what = words.replace(" (at end of document)", " at the end of the file")
        what = what.split(" (at line ")[0].replace("\n", " ")
        raise SettingsError(f"{file}{line}: not valid TOML: {what}{column}") from None
    return Section(table, file, key_lines(text))
