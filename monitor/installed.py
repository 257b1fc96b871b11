"""The adapters that are installed: listed without importing any, built by name.

An adapter is an entry point of the group `ampwright.adapters`, in this distribution or in any
other that is installed beside it.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib.metadata import EntryPoint, entry_points
from typing import Final

from adapters.adapter import Adapter, Factory, SettingsError
from monitor.config import DeviceConfig
from monitor.config_keys import nearest

GROUP: Final = "ampwright.adapters"


def adapter_names() -> tuple[str, ...]:
    """Names of all installed adapters, in order."""
    return tuple(sorted(_entries()))


def build_adapter(device: DeviceConfig, raw: Callable[[bool, bytes], None]) -> Adapter:
    """The adapter of a configured device, not opened yet; SettingsError where it cannot be."""
    entry = _entries().get(device.adapter)
    settings = device.settings
    if entry is None:
        raise SettingsError(
            f"{settings.where}: adapter: expected one that is installed, "
            f'found "{device.adapter}"; {nearest(device.adapter, adapter_names())}'
        )
    try:
        factory: Factory = entry.load()
    except (ImportError, AttributeError) as error:
        raise SettingsError(
            f"{settings.where}: the adapter {device.adapter} cannot be loaded "
            f"({str(error).splitlines()[0]}); install its package again"
        ) from None
    return factory(settings, raw)


def unheard(sent: bool, data: bytes) -> None:
    """Where raw bytes go when nobody records them."""
    del sent, data


def _entries() -> dict[str, EntryPoint]:
    return {entry.name: entry for entry in entry_points(group=GROUP)}
