"""One owner of a configuration's devices: whoever comes second is told who was first.

A small file names the owner: process, since when, and the socket at which it can be attached to.
What counts is the system's own lock on it (`flock`), which goes with the process however that
ends; the words in the file are for people, and mean nothing once the lock is gone.
"""

from __future__ import annotations

import contextlib
import fcntl
import hashlib
import json
import os
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from monitor.mishaps import Refusal
from monitor.service.places import folders, make_folder, own_folder
from monitor.words.days import day_month

_ENDING: Final = ".owner"
#: Others that end at the very moment of a lock; more than once is hardly ever seen.
_TRIES: Final = 10


@dataclass(frozen=True, slots=True)
class Owner:
    """Who has the devices. `since` in Unix seconds; `socket` is empty where it takes no guests."""

    pid: int
    command: str
    since: float
    config: str
    socket: str = ""

    @property
    def words(self) -> str:
        """`process 812 (serve) since 25 Nov 14:02`."""
        when = datetime.fromtimestamp(self.since)
        return f"process {self.pid} ({self.command}) since {day_month(when)} {when:%H:%M}"


def owner_of(config: Path) -> Owner | None:
    """Who has the devices of a configuration now; None where nobody has."""
    for folder in folders():
        owner = _holder(folder / _name(config))
        if owner is not None:
            return owner
    return None


def owners() -> tuple[Owner, ...]:
    """Everybody who has the devices of any configuration now, as far as we may look."""
    files = (file for folder in folders() for file in sorted(folder.glob(f"*{_ENDING}")))
    return tuple(owner for file in files if (owner := _holder(file)) is not None)


@contextlib.contextmanager
def owning(config: str, command: str, socket: str = "") -> Iterator[None]:
    """Be the owner meanwhile; `Refusal` in one line where somebody is already.

    Where no lock can be made (no place to write) nothing is locked: the serial ports themselves
    are opened by one process only.
    """
    path = Path(config)
    before = owner_of(path)
    if before is not None:
        raise Refusal(taken(path, before))
    own = own_folder() / _name(path)
    handle = _locked(own, path)
    if handle is None:
        yield
        return
    owner = Owner(os.getpid(), command, time.time(), str(path.absolute()), socket)
    with contextlib.suppress(OSError):  # a full disk keeps nobody from starting
        os.ftruncate(handle, 0)
        os.pwrite(handle, json.dumps(asdict(owner)).encode(), 0)
    try:
        yield
    finally:
        # Still ours alone: whoever opened it meanwhile finds, once it has the lock, that the name
        # is gone, and makes another.
        with contextlib.suppress(OSError):
            if _named(handle, own):
                own.unlink()
        os.close(handle)


def _name(config: Path) -> str:
    """A file name for a configuration, the same by whatever way it is reached."""
    return hashlib.sha256(str(config.resolve()).encode()).hexdigest()[:16] + _ENDING


def _locked(file: Path, config: Path) -> int | None:
    """The locked file; None where there can be none.

    An owner that ends takes its file away. A lock on one that lost its name in between guards
    nothing, so then it is tried again.
    """
    for _ in range(_TRIES):
        try:
            make_folder(file.parent)
            handle = os.open(file, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o640)
        except OSError:
            return None
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            owner = _read(handle)
            os.close(handle)
            raise Refusal(taken(config, owner)) from None
        if _named(handle, file):
            return handle
        os.close(handle)
    return None


def _named(handle: int, file: Path) -> bool:
    """Whether an open file still bears its name."""
    try:
        return os.path.samestat(os.fstat(handle), file.stat())
    except OSError:
        return False


def _holder(file: Path) -> Owner | None:
    try:
        handle = os.open(file, os.O_RDONLY | os.O_CLOEXEC)
    except OSError:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except OSError:
        return _read(handle)
    finally:
        os.close(handle)
    return None


def _read(handle: int) -> Owner:
    """What the file says; just locked it may still be empty."""
    try:
        return Owner(**json.loads(os.pread(handle, 4096, 0)))
    except (OSError, ValueError, TypeError):
        return Owner(0, "just started", time.time(), "")


def taken(config: Path, owner: Owner) -> str:
    """One line for whoever comes second."""
    how = (
        f"look at it with: ampwright watch --socket {owner.socket}"
        if owner.socket
        else "end that one first"
    )
    return f"{config}: its devices are read by {owner.words}; {how}"
