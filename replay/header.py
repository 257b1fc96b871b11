"""The first line of a capture: all that is needed to play it again anywhere.

The config, the device descriptions and the starting state are opaque here: text and plain JSON
that the recording software wrote and will read, so that old captures open for ever and this
package never needs to know what a bank is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from replay.rows import FORMAT_VERSION, Row, RowError

FORMAT_NAME: Final = "ampwright-capture"


@dataclass(frozen=True, slots=True)
class Header:
    """What was true when the recording began.

    `config` is the text of the config file, `descriptions` the text of each device description
    by its name, `state` the engine's state before the first input (None: it knew nothing),
    `software` the version that recorded. `wall_offset` is Unix time minus monotonic seconds at
    the start, None where the clock could not be believed. `origin` says how the figures came
    about ("measured", "simulated", "imported from ..."), `notes` what was done to the file since.
    `segment` is there where the capture is one piece of a longer record: its number, the start of
    the machine it was made in, and what else whoever keeps the record needs to go on.
    """

    config: str = ""
    descriptions: Mapping[str, str] = field(default_factory=dict)
    state: Mapping[str, object] | None = None
    software: str = ""
    wall_offset: float | None = None
    title: str = ""
    origin: str = ""
    notes: tuple[str, ...] = ()
    segment: Mapping[str, object] | None = None
    version: tuple[int, int] = FORMAT_VERSION


class NewerVersionError(RowError):
    """The capture was written by software whose rows this one cannot understand."""


def header_row(header: Header) -> Row:
    return {
        "k": "header",
        "format": FORMAT_NAME,
        "version": list(header.version),
        "software": header.software,
        "title": header.title,
        "origin": header.origin,
        "notes": list(header.notes),
        "wall_offset": header.wall_offset,
        **({} if header.segment is None else {"segment": dict(header.segment)}),
        "config": header.config,
        "descriptions": dict(header.descriptions),
        "state": None if header.state is None else dict(header.state),
    }


def looks_like_header(line: bytes) -> bool:
    """Whether a first line, sound or not, was meant to begin a capture."""
    return line.startswith(b'{"n":0,"k":"header"') or FORMAT_NAME.encode() in line[:200]


def header_from_row(row: Row) -> Header:
    """The header in a row; raises `RowError` in words where it is none of ours."""
    if row.get("k") != "header" or row.get("format") != FORMAT_NAME:
        raise RowError("the first line is not the header of a capture")
    version = _version(row)
    return Header(
        config=_text(row, "config"),
        descriptions=_texts(row, "descriptions"),
        state=_object(row, "state"),
        software=_text(row, "software"),
        wall_offset=_offset(row),
        title=_text(row, "title"),
        origin=_text(row, "origin"),
        notes=_notes(row),
        segment=_object(row, "segment"),
        version=version,
    )


def _version(row: Row) -> tuple[int, int]:
    match row.get("version"):
        case [int(major), int(minor)]:
            if major > FORMAT_VERSION[0]:
                raise NewerVersionError(
                    f"has format version {major}.{minor}, this software reads up to "
                    f"{FORMAT_VERSION[0]}.x"
                )
            return major, minor
    raise RowError("the header's version should be two whole numbers")


def _text(row: Row, key: str) -> str:
    found = row.get(key, "")
    if not isinstance(found, str):
        raise RowError(f"the header's {key} should be text")
    return found


def _texts(row: Row, key: str) -> dict[str, str]:
    found = row.get(key, {})
    if not isinstance(found, dict) or not all(isinstance(text, str) for text in found.values()):
        raise RowError(f"the header's {key} should be texts by name")
    return found


def _object(row: Row, key: str) -> dict[str, object] | None:
    found = row.get(key)
    if found is not None and not isinstance(found, dict):
        raise RowError(f"the header's {key} should be an object or null")
    return found


def _offset(row: Row) -> float | None:
    found = row.get("wall_offset")
    if found is None or isinstance(found, float) or type(found) is int:
        return found
    raise RowError("the header's wall_offset should be a number or null")


def _notes(row: Row) -> tuple[str, ...]:
    found = row.get("notes", [])
    if not isinstance(found, list) or not all(isinstance(note, str) for note in found):
        raise RowError("the header's notes should be a list of texts")
    return tuple(found)
