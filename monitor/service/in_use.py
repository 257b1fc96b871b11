"""Whether a line that somebody names by hand is already read by a running service.

Two masters on one wire take each other's answers. A serial port is locked by whoever opens it, but
another master on the network is not noticed until figures go missing, so both are looked up.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from monitor.mishaps import Refusal
from monitor.service.owner import owners, taken

#: The usual TCP port of Modbus (the Modbus TCP implementation guide: 502).
MODBUS_TCP_PORT: Final = 502


def refuse_line_in_use(where: str, *, port: str | None = None, host: str | None = None) -> None:
    """`Refusal` in one line where a running program reads this serial port, or this `host[:port]`.

    `where` is what the person gave, for the line. A configuration that cannot be read names no
    lines.
    """
    from monitor.config import ConfigError, load_config

    for owner in owners():
        try:
            config = load_config(Path(owner.config))
        except (ConfigError, OSError):
            continue
        for device in config.devices:
            if _same(device.settings.options, port, host):
                raise Refusal(
                    f"{where}: {device.settings.name} of {taken(Path(owner.config), owner)}"
                )


def _same(options: Mapping[str, object], port: str | None, host: str | None) -> bool:
    given = options.get("port")
    if port is not None:
        return isinstance(given, str) and os.path.realpath(given) == os.path.realpath(port)
    name, _, number = (host or "").partition(":")
    there = given if isinstance(given, int) else MODBUS_TCP_PORT
    return options.get("host") == name and there == int(number or MODBUS_TCP_PORT)
