"""Which adapters there are: entry points of the group `ampwright.adapters`, ours and others'.

Listing reads names only and imports none of them, so that a broken or slow package costs nothing
until somebody asks for it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, cast

from adapters.adapter import Factory, SettingsError
from adapters.checked_toml import meant

if TYPE_CHECKING:
    from importlib.metadata import EntryPoint

GROUP: Final = "ampwright.adapters"


def _found() -> dict[str, EntryPoint]:
    # Imported with it come the readers of electronic mail, which a recording has no need of.
    from importlib.metadata import entry_points

    return {point.name: point for point in entry_points(group=GROUP)}


def installed() -> list[str]:
    """The names of all adapters, sorted."""
    return sorted(_found())


def load(name: str, where: str = "") -> Factory:
    """The factory of an adapter. `where` tells errors where the name stands.

    `SettingsError` for a name that is not installed and for a package that cannot be imported.
    """
    place = f"{where}, key adapter: " if where else ""
    points = _found()
    if name not in points:
        known = ", ".join(sorted(points)) or "none; install the program again"
        raise SettingsError(
            f'{place}no adapter "{name}" is installed{meant(name, points)} (installed: {known})'
        )
    point = points[name]
    try:
        factory = point.load()
    except Exception as fault:
        words = " ".join(str(fault).split())[:200]
        raise SettingsError(
            f'{place}the adapter "{name}" ({point.value}) cannot be loaded: '
            f"{type(fault).__name__}: {words}; install its package again"
        ) from None
    if not callable(factory):
        raise SettingsError(f'{place}the adapter "{name}" ({point.value}) is not a factory')
    return cast(Factory, factory)
