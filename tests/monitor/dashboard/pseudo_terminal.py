"""The dashboard, or any command, in a pseudo-terminal: what it sends, how it ends."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Final

ROOT = Path(__file__).parents[3]


#: What gives a terminal back: the other buffer, the cursor, pasting as it was.
GIVEN_BACK: Final = (b"\x1b[?1049l", b"\x1b[?25h", b"\x1b[?2004l")


class Terminal:
    """A Python module with its arguments in a pseudo-terminal of 256 colours; `log` is what the
    hand-made feed writes at its end."""

    def __init__(
        self,
        module: Sequence[str],
        log: Path,
        size: tuple[int, int] = (100, 30),
        **environment: str,
    ) -> None:
        self.log = log
        self.master, slave = pty.openpty()
        columns, rows = size
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        kept = {k: v for k, v in os.environ.items() if k not in ("COLORTERM", "NO_COLOR")}
        environment = {**kept, "TERM": "xterm-256color", "PYTHONPATH": str(ROOT), **environment}
        self.settings = termios.tcgetattr(slave)
        self.process = subprocess.Popen(
            [sys.executable, "-m", *module],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env=environment,
            start_new_session=True,
            # Closing the terminal must hang the program up: make it the controlling one.
            preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
        )
        os.close(slave)
        self.open = True

    def read(self, seconds: float, until: bytes | None = None) -> bytes:
        """What it sends in so many seconds, or until `until` was seen."""
        end, got = time.monotonic() + seconds, b""
        while (left := end - time.monotonic()) > 0 and (until is None or until not in got):
            if select.select([self.master], [], [], left)[0]:
                try:
                    got += os.read(self.master, 65536)
                except OSError:
                    break
        return got

    def type(self, keys: bytes) -> None:
        os.write(self.master, keys)

    def resize(self, columns: int, rows: int) -> None:
        fcntl.ioctl(self.master, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.process.send_signal(signal.SIGWINCH)

    def cpu_seconds(self) -> float:
        """What the program has used so far."""
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    @property
    def restored(self) -> bool:
        """Whether the line is set as it was before the program began."""
        return termios.tcgetattr(self.master) == self.settings

    def hang_up(self) -> None:
        os.close(self.master)
        self.open = False

    def wait(self, seconds: float = 10) -> tuple[int, str, bytes]:
        """Exit status, what the feed logged, and what was sent last."""
        end, sent = time.monotonic() + seconds, b""
        while self.process.poll() is None and time.monotonic() < end:
            if self.open:
                sent += self.read(0.1)
            else:
                time.sleep(0.05)
        assert self.process.poll() is not None, "still running"
        said = self.log.read_text(encoding="utf-8") if self.log.exists() else ""
        return self.process.returncode, said, sent


@contextmanager
def terminal(
    tmp_path: Path,
    *,
    module: Sequence[str] = (),
    size: tuple[int, int] = (100, 30),
    **environment: str,
) -> Iterator[Terminal]:
    """The hand-made board at a snapshot a second, or another module; ended in any case."""
    log = tmp_path / "log"
    own = ("tests.monitor.dashboard.board_in_terminal", "1", str(log))
    board = Terminal(module or own, log, size, **environment)
    try:
        yield board
    finally:
        if board.process.poll() is None:
            board.process.kill()
            board.process.wait()
        if board.open:
            board.hang_up()
