"""The record of a commissioning on disk: JSON, written whole after each change.

The form follows the types: an object for a dataclass, a list for a tuple, the word for an enum. A
field that the file lacks takes its default, so a file of an older version is read; one of a newer
version, a broken one, or one whose figures are no figures is refused with one line that says where.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import math
import os
import types
import typing
from enum import Enum
from pathlib import Path
from typing import Any, Final, TypeVar

from monitor.commission.record import CommissionRecord, Installation
from monitor.mishaps import Refusal

#: Raised where a reader of the version before would misunderstand the file.
FORMAT: Final = 1
KIND: Final = "ampwright commissioning"

T = TypeVar("T")


class NotMeantError(Exception):
    """Found something else than expected; where and what."""


def as_text(record: CommissionRecord) -> str:
    document = {"kind": KIND, "format": FORMAT, **_document(record)}
    return json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def from_text(text: str, name: str) -> CommissionRecord:
    """The record in a text; Refusal in one line, which begins with `name`."""
    try:
        document = json.loads(text)
    except (ValueError, RecursionError):
        document = None
    if not isinstance(document, dict) or document.get("kind") != KIND:
        raise Refusal(f"{name}: expected a commissioning record, found something else")
    version = document.get("format")
    if not isinstance(version, int) or not 1 <= version <= FORMAT:
        raise Refusal(
            f"{name}: expected a record of format 1 to {FORMAT}, found {version!r}; "
            "it was written by a newer version of this program: use that one"
        )
    try:
        return value_of(CommissionRecord, document)
    except (NotMeantError, RecursionError) as error:
        raise Refusal(f"{name}: {error}; restore a copy of it or begin anew") from None


def load_record(path: Path) -> CommissionRecord | None:
    """The record kept in a file, None where there is none yet; Refusal, OSError."""
    try:
        text = path.read_text(encoding="utf-8", errors="replace")
    except FileNotFoundError:
        return None
    return from_text(text, str(path))


def save_record(path: Path, record: CommissionRecord) -> None:
    """Put a record in place of the one before, whole or not at all; OSError where refused."""
    beside = path.with_name(path.name + ".new")
    with beside.open("w", encoding="utf-8") as file:
        file.write(as_text(record))
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)
    handle = os.open(path.absolute().parent, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def document_of(value: object) -> Any:
    """A value of `record` as plain JSON."""
    return _document(value)


def installation_digest(installation: Installation) -> str:
    """The SHA-256 of an installation as entered."""
    return hashlib.sha256(json.dumps(_document(installation)).encode()).hexdigest()


def value_of(kind: type[T], document: object, where: str = "record") -> T:
    """The value of a type from plain JSON."""
    return typing.cast(T, _value(kind, document, where))


def _document(value: object) -> Any:
    if dataclasses.is_dataclass(value):
        return {
            field.name: _document(getattr(value, field.name)) for field in dataclasses.fields(value)
        }
    if isinstance(value, tuple):
        return [_document(each) for each in value]
    return value.value if isinstance(value, Enum) else value


def _value(kind: Any, document: object, where: str) -> object:
    if isinstance(kind, types.UnionType):
        if document is None:
            return None
        return _value(next(one for one in kind.__args__ if one is not type(None)), document, where)
    if typing.get_origin(kind) is tuple:
        if not isinstance(document, list):
            raise NotMeantError(f"{where}: expected a list, found {_shown(document)}")
        one = typing.get_args(kind)[0]
        return tuple(_value(one, each, f"{where}[{n}]") for n, each in enumerate(document))
    if dataclasses.is_dataclass(kind):
        return _dataclass(typing.cast("type[Any]", kind), document, where)
    if isinstance(kind, type) and issubclass(kind, Enum):
        words = [each.value for each in kind]
        if document not in words:
            raise NotMeantError(f"{where}: expected one of {words}, found {_shown(document)}")
        return kind(document)
    return _plain(kind, document, where)


def _dataclass(kind: type[Any], document: object, where: str) -> object:
    if not isinstance(document, dict):
        raise NotMeantError(f"{where}: expected an object, found {_shown(document)}")
    hints = typing.get_type_hints(kind)
    given: dict[str, Any] = {}
    for field in dataclasses.fields(kind):
        if field.name in document:
            given[field.name] = _value(
                hints[field.name], document[field.name], f"{where}.{field.name}"
            )
        elif field.default is dataclasses.MISSING:
            raise NotMeantError(f"{where}: expected {field.name}, found none")
    return kind(**given)


def _plain(kind: type, document: object, where: str) -> object:
    if kind is float and isinstance(document, int | float) and not isinstance(document, bool):
        if math.isfinite(document):
            return float(document)
    elif isinstance(document, kind) and (kind is bool or not isinstance(document, bool)):
        return document
    raise NotMeantError(f"{where}: expected {kind.__name__}, found {_shown(document)}")


def _shown(document: object) -> str:
    text = repr(document)
    return text if len(text) <= 40 else f"{text[:37]}..."
