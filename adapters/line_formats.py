"""The shapes in which devices write text lines, each both ways: line to texts, texts to lines.

A format finds the pieces of a line and gives each its *spot*, the text by which a description
names it: the key, the column, the dotted path, the sentence and position. What the pieces mean is
not its business. `parse` gives None for anything that is not such a line and never raises.
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Protocol

Texts = dict[str, str]

#: A plain decimal number; what else `float` takes ("nan", "1_000") no device means as a figure.
NUMBER: Final = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)


class Format(Protocol):
    """One shape of lines. `write` gives every line that it takes to tell these texts."""

    def parse(self, line: str) -> Texts | None: ...

    def write(self, texts: Mapping[str, str]) -> list[str]: ...


@dataclass(frozen=True, slots=True)
class KeyValue:
    """`volts=12.61`: one pair a line, or several with `pair_separator` between them."""

    key_separator: str
    pair_separator: str

    def parse(self, line: str) -> Texts | None:
        pairs = line.split(self.pair_separator) if self.pair_separator else [line]
        texts: Texts = {}
        for pair in pairs:
            key, found, text = pair.strip().partition(self.key_separator)
            if found and key.strip():
                texts[key.strip()] = text.strip()
        return texts or None

    def write(self, texts: Mapping[str, str]) -> list[str]:
        pairs = [f"{key}{self.key_separator}{text}" for key, text in texts.items()]
        return [self.pair_separator.join(pairs)] if self.pair_separator else pairs


@dataclass(frozen=True, slots=True)
class Csv:
    """`12.61,-4.2,21`: columns counted from 1. A line with another number of columns lost some of
    itself on the way and is refused whole. Blanks as separator may be repeated."""

    separator: str
    columns: int

    def parse(self, line: str) -> Texts | None:
        try:
            cells = (
                line.split()
                if self.separator == " "
                else next(csv.reader([line], delimiter=self.separator))
            )
        except (csv.Error, StopIteration):
            return None
        if len(cells) != self.columns:
            return None
        texts = {str(column): cell.strip() for column, cell in enumerate(cells, start=1)}
        if self.separator == " ":
            texts = {spot: "" if text == "-" else text for spot, text in texts.items()}
        return texts

    def write(self, texts: Mapping[str, str]) -> list[str]:
        # Split on blanks, an empty cell would vanish; a lone dash is "nothing" there.
        nothing = "-" if self.separator == " " else ""
        cells = [texts.get(str(column), "") or nothing for column in range(1, self.columns + 1)]
        return [self.separator.join(cells)]


@dataclass(frozen=True, slots=True)
class Json:
    """`{"bank": {"volts": 12.61}}`: one object a line, figures by dotted path (`bank.volts`)."""

    def parse(self, line: str) -> Texts | None:
        try:
            # Numbers stay text, so that "12.610" is judged like any other device's figure.
            found = json.loads(line, parse_float=str, parse_int=str, parse_constant=str)
        except (ValueError, RecursionError):
            return None
        if not isinstance(found, dict):
            return None
        texts: Texts = {}
        _flatten(found, "", texts)
        return texts or None

    def write(self, texts: Mapping[str, str]) -> list[str]:
        tree: dict[str, object] = {}
        for spot, text in texts.items():
            *parents, leaf = spot.split(".")
            table = tree
            for parent in parents:
                table = table.setdefault(parent, {})  # type: ignore[assignment]
            table[leaf] = _json_value(text)
        return [json.dumps(tree, separators=(",", ":"))]


def _flatten(found: object, path: str, texts: Texts) -> None:
    """Every leaf under its dotted path; items of lists are counted from 0."""
    if isinstance(found, list):
        found = {str(index): item for index, item in enumerate(found)}
    if isinstance(found, dict):
        for name, item in found.items():
            _flatten(item, f"{path}.{name}" if path else str(name), texts)
    elif found is None:
        texts[path] = ""
    elif isinstance(found, bool):
        texts[path] = "true" if found else "false"
    else:
        texts[path] = str(found)


def _json_value(text: str) -> object:
    if not text:
        return None
    if text in ("true", "false"):
        return text == "true"
    if NUMBER.fullmatch(text):
        return float(text) if re.search(r"[.eE]", text) else int(text)
    return text


@dataclass(frozen=True, slots=True)
class Sentence:
    """`$ADDRESS,12.61,-4.2*5A`: an address, fields counted from 1 after it, and a check.

    The check is the exclusive-or of the bytes between the start and the `*`, in two hexadecimal
    digits (NMEA 0183, from memory). Whatever stands before the start is noise and skipped.
    """

    start: str

    def parse(self, line: str) -> Texts | None:
        _, found, rest = line.rpartition(self.start)
        body, star, check = rest.rpartition("*")
        if not found or not star or not re.fullmatch("[0-9A-Fa-f]{2}", check.strip()):
            return None
        if int(check, 16) != checksum(body):
            return None
        address, *fields = body.split(",")
        if not fields:
            return None
        return {f"{address}:{index}": text.strip() for index, text in enumerate(fields, start=1)}

    def write(self, texts: Mapping[str, str]) -> list[str]:
        sentences: dict[str, dict[int, str]] = {}
        for spot, text in texts.items():
            address, _, position = spot.rpartition(":")
            sentences.setdefault(address, {})[int(position)] = text
        lines = []
        for address, fields in sentences.items():
            texts_in_order = [fields.get(index, "") for index in range(1, max(fields) + 1)]
            body = ",".join([address, *texts_in_order])
            lines.append(f"{self.start}{body}*{checksum(body):02X}")
        return lines


def checksum(body: str) -> int:
    """The exclusive-or of the bytes of a sentence."""
    check = 0
    for byte in body.encode("utf-8", "surrogateescape"):
        check ^= byte
    return check
