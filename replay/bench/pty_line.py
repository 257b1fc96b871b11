"""A pseudo-terminal as a serial line: one end is ours, the other is a port that others open.

The bench holds its own handle on the far end as well, so that the line stays whole while programs
open and close it. What nobody reads is lost after a while, as on a wire.

A link is a name that stays the same: `/dev/pts/7` of one run is `/dev/pts/9` of the next. Killing
the bench and starting it again under the same link is unplugging a device and plugging it in.
"""

from __future__ import annotations

import asyncio
import contextlib
import fcntl
import os
import pty
import struct
import termios
import tty
from collections.abc import Callable
from pathlib import Path
from typing import Final

from replay.bench.figures import BenchError

#: Bytes that may wait for a reader, half of what the kernel holds for a terminal (4096, Linux).
_MOST_UNREAD: Final = 2048

_READ_BYTES: Final = 4096


class PtyLine:
    """`device` is the terminal's own path, `path` the link where there is one."""

    def __init__(self, received: Callable[[bytes], None], link: Path | None) -> None:
        self._received = received
        try:
            self._ours, self._far = pty.openpty()
        except OSError as error:
            raise BenchError(
                f"no pseudo-terminal to be had ({error.strerror}); close some terminals"
            ) from None
        tty.setraw(self._far)
        os.set_blocking(self._ours, False)
        self.device = os.ttyname(self._far)
        self._link = link
        try:
            if link is not None:
                _place(link, self.device)
        except BenchError:
            self._close_both()
            raise
        self._loop = asyncio.get_running_loop()
        self._loop.add_reader(self._ours, self._read)

    @property
    def path(self) -> str:
        return str(self._link) if self._link is not None else self.device

    def write(self, data: bytes) -> None:
        """Sends; what does not fit because nobody reads is lost."""
        if unread(self._far) + len(data) > _MOST_UNREAD:
            termios.tcflush(self._far, termios.TCIFLUSH)
        with contextlib.suppress(BlockingIOError):
            os.write(self._ours, data)

    def close(self) -> None:
        self._loop.remove_reader(self._ours)
        if self._link is not None:
            _take_away(self._link, self.device)
        self._close_both()

    def _close_both(self) -> None:
        os.close(self._ours)
        os.close(self._far)

    def _read(self) -> None:
        with contextlib.suppress(BlockingIOError):
            self._received(os.read(self._ours, _READ_BYTES))


def unread(terminal: int) -> int:
    """Bytes that wait for whoever reads this terminal."""
    waiting: int = struct.unpack("i", fcntl.ioctl(terminal, termios.FIONREAD, b"\0" * 4))[0]
    return waiting


def _place(link: Path, device: str) -> None:
    """Points a link at the terminal in one step; only a link to a terminal is ever replaced."""
    if os.path.lexists(link) and not (link.is_symlink() and _terminal(os.readlink(link))):
        raise BenchError(f"{link}: exists and is no link to a terminal; choose another path")
    new = link.with_name(f".{link.name}.{os.getpid()}")
    try:
        new.symlink_to(device)
        new.replace(link)
    except OSError as error:
        new.unlink(missing_ok=True)
        raise BenchError(
            f"{link}: the link cannot be made ({error.strerror}); choose a directory that exists "
            "and that you may write to"
        ) from None


def _take_away(link: Path, device: str) -> None:
    """Removes the link unless another bench has taken it over."""
    with contextlib.suppress(OSError):
        if os.readlink(link) == device:
            link.unlink()


def _terminal(target: str) -> bool:
    return target.startswith(("/dev/pts/", "/dev/ttys"))  # Linux, macOS
