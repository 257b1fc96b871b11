"""Where a running service is found: its socket, and the note of who has a configuration's devices.

    RUNTIME_DIRECTORY          set by a service manager for the service itself
    XDG_RUNTIME_DIR/ampwright  a user's own
    /run/ampwright             the system's
    /tmp/ampwright-UID         where there is none of these

All are emptied when the machine starts.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Final

SYSTEM_FOLDER: Final = Path("/run/ampwright")
SOCKET_NAME: Final = "socket"

#: The kernel holds a socket's path in 108 bytes (unix(7)), the last of them 0.
LONGEST_PATH: Final = 107


def own_folder(environ: Mapping[str, str] = os.environ, uid: int | None = None) -> Path:
    """Where this process puts what it has at run time."""
    given = environ.get("RUNTIME_DIRECTORY", "").split(":")[0]
    if given:
        return Path(given)
    user = environ.get("XDG_RUNTIME_DIR", "")
    if user:
        return Path(user) / "ampwright"
    number = os.getuid() if uid is None else uid
    return SYSTEM_FOLDER if number == 0 else Path(f"/tmp/ampwright-{number}")


def folders(environ: Mapping[str, str] = os.environ) -> tuple[Path, ...]:
    """Where to look for a service: one's own place, then the system's."""
    own = own_folder(environ)
    return (own,) if own == SYSTEM_FOLDER else (own, SYSTEM_FOLDER)


def make_folder(folder: Path) -> None:
    """Make it if need be, for the owner and the group only; OSError where that cannot be, or where
    it is another's: in a place open to everybody somebody else may have put it there."""
    folder.mkdir(mode=0o750, parents=True, exist_ok=True)
    if folder.stat().st_uid not in (os.getuid(), 0):
        raise PermissionError(1, "belongs to another user", str(folder))
