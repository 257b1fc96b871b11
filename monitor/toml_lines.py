"""On which line of a TOML text each key stands, so that an error can point at it.

The standard parser gives values without places. A scan of headers and keys is enough: a key in an
inline table is placed on the line of the table, which is where a person would look anyway.
"""

from __future__ import annotations

import re
from typing import Final

Path = tuple[str, ...]

_PART: Final = r"""(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')"""
_DOTTED: Final = rf"{_PART}(?:\s*\.\s*{_PART})*"
_HEADER: Final = re.compile(rf"^\s*\[{{1,2}}\s*({_DOTTED})\s*\]{{1,2}}\s*(?:#.*)?$")
_KEY: Final = re.compile(rf"^\s*({_DOTTED})\s*=")
_PARTS: Final = re.compile(_PART)


def key_lines(text: str) -> dict[Path, int]:
    """Lines, counted from 1, of every header and key: ("banks", "house", "chemistry") -> 4.

    Tables that only appear inside a longer header are placed on the first of those.
    """
    lines: dict[Path, int] = {}
    table: Path = ()
    inside: str | None = None
    for number, line in enumerate(text.splitlines(), start=1):
        if inside is None:
            if header := _HEADER.match(line):
                table = _path(header.group(1))
                _note(lines, table, number)
            elif key := _KEY.match(line):
                _note(lines, table + _path(key.group(1)), number)
        inside = _still_inside(line, inside)
    return lines


def line_of(lines: dict[Path, int], path: Path) -> int:
    """The line of a key, else of the nearest table around it, else the first."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return 1


def _path(dotted: str) -> Path:
    return tuple(part.strip("\"'") for part in _PARTS.findall(dotted))


def _note(lines: dict[Path, int], path: Path, number: int) -> None:
    for length in range(1, len(path) + 1):
        lines.setdefault(path[:length], number)


def _still_inside(line: str, inside: str | None) -> str | None:
    """The quotes of the multi-line string that is still open at the end of this line, if any."""
    rest = line
    while True:
        if inside is not None:
            _, closed, rest = rest.partition(inside)
            if not closed:
                return inside
            inside = None
        else:
            found = [(rest.find(quotes), quotes) for quotes in ('"""', "'''") if quotes in rest]
            if not found:
                return None
            place, inside = min(found)
            rest = rest[place + 3 :]
