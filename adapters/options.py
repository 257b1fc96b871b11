"""The device's own keys of the config (port, host, baud...), checked in one place.

Every mistake is a `SettingsError` of one line that begins with where the settings stand.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar

from adapters.adapter import DeviceSettings, SettingsError
from adapters.checked_toml import meant, shown
from adapters.conversion import PERIOD_BOUNDS
from adapters.description import Description, load_text

Kind = TypeVar("Kind", bound=Description)


class Options:
    """Takes one option after the other; `done` refuses those that nobody asked for."""

    def __init__(self, settings: DeviceSettings) -> None:
        self._left = dict(settings.options)
        self._taken: list[str] = []
        self.where = settings.where or settings.name

    def error(self, key: str, problem: str) -> SettingsError:
        return SettingsError(f"{self.where}, key {key}: {problem}")

    def _take(self, key: str) -> object | None:
        self._taken.append(key)
        return self._left.pop(key, None)

    def text(self, key: str, expected: str) -> str:
        """Text that must be given."""
        value = self._take(key)
        if not isinstance(value, str) or not value.strip():
            found = "none" if value is None else shown(value)
            raise self.error(key, f"expected {expected} in quotes; found {found}")
        return value

    def any_value(self, key: str) -> object | None:
        """A value as TOML gave it, None where it is absent; the adapter checks it itself."""
        return self._take(key)

    def choice(self, key: str, known: Iterable[str], default: str) -> str:
        value = self._take(key)
        words = list(known)
        if value is None:
            return default
        if value not in words:
            raise self.error(key, f"expected one of {', '.join(words)}; found {shown(value)}")
        return str(value)

    def whole(self, key: str, default: int, low: int, high: int) -> int:
        value = self._take(key)
        if value is None:
            return default
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            expected = f"a whole number from {low} to {high}"
            raise self.error(key, f"expected {expected}; found {shown(value)}")
        return value

    def number(self, key: str, default: float, low: float, high: float) -> float:
        value = self._take(key)
        if value is None:
            return default
        good = isinstance(value, int | float) and not isinstance(value, bool)
        if not good or not low <= value <= high:  # type: ignore[operator]  # good says it is one
            raise self.error(
                key, f"expected a number from {low:g} to {high:g}; found {shown(value)}"
            )
        return float(value)  # type: ignore[arg-type]

    def flag(self, key: str, default: bool) -> bool:
        value = self._take(key)
        if value is None:
            return default
        if not isinstance(value, bool):
            raise self.error(key, f"expected true or false; found {shown(value)}")
        return value

    def period(self, description: Description) -> float:
        """How often to poll: as the config says, else as the description does."""
        return self.number("period_seconds", description.period_seconds, *PERIOD_BOUNDS)

    def done(self) -> None:
        for key in self._left:
            known = ", ".join(self._taken)
            raise self.error(key, f"unknown key{meant(key, self._taken)} (known here: {known})")


def description_of(settings: DeviceSettings, kind: type[Kind], words: str) -> Kind:
    """The device's description, which must be of the kind that its adapter reads."""
    where = settings.where or settings.name
    if settings.description is None:
        raise SettingsError(
            f'{where}: expected description = "FILE.toml", {words}; found none '
            "(start from one of the shipped templates)"
        )
    description = load_text(settings.description, settings.description_name or "description")
    if not isinstance(description, kind):
        raise SettingsError(
            f"{where}, key description: expected {words}; "
            f"{description.name} describes a device of another kind"
        )
    return description
