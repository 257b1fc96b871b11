"""Device descriptions: a TOML text that tells an adapter where a device keeps its numbers.

`load_text` reads and checks one; what comes back decodes a device's data into figures and encodes
figures into data. Descriptions name quantities only; what the figures belong to is said by the
config. Two kinds exist: `modbus` (`adapters.registers`) and `lines` (`adapters.text_lines`). The
commented templates in `adapters/descriptions/` explain every key.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import resources
from typing import Final

from adapters.adapter import SettingsError
from adapters.checked_toml import Section, meant, read_toml
from adapters.registers import ModbusDescription, read_modbus
from adapters.text_lines import LinesDescription, read_lines

Description = ModbusDescription | LinesDescription

#: Said where what was named is nothing of the kind.
_WHAT_IT_IS: Final = (
    "a device description is a TOML file that says where a device keeps its numbers; copy one of "
    f"the commented templates in {resources.files('adapters') / 'descriptions'}"
)

_KINDS: Final[dict[str, Callable[[Section, str], Description]]] = {
    "modbus": read_modbus,
    "lines": read_lines,
}


def load_text(text: str, name: str) -> Description:
    """The description in a TOML text; `name` is what errors call it, usually the file's name.

    Every mistake raises `SettingsError` with one line: file, line, key, expected, found.
    """
    try:
        root = read_toml(text, name)
    except SettingsError as error:
        raise SettingsError(f"{error}; {_WHAT_IT_IS}") from None
    kind = root.choice("kind", _KINDS)
    return _KINDS[kind](root, name)


def shipped() -> list[str]:
    """The file names of the descriptions that come with this program."""
    folder = resources.files("adapters") / "descriptions"
    return sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".toml"))


def shipped_text(name: str) -> str:
    """The text of a description that comes with this program."""
    names = shipped()
    if name not in names:
        known = ", ".join(names)
        raise SettingsError(f"no shipped description {name}{meant(name, names)} (shipped: {known})")
    return (resources.files("adapters") / "descriptions" / name).read_text("utf-8")
