"""In a real pseudo-terminal: hang-up, termination, no colour, and how much is sent."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]


class Terminal:
    """The dashboard in a pseudo-terminal of 100x30, 256 colours."""

    def __init__(self, log: Path, **environment: str) -> None:
        self.log = log
        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 30, 100, 0, 0))
        kept = {k: v for k, v in os.environ.items() if k not in ("COLORTERM", "NO_COLOR")}
        environment = {**kept, "TERM": "xterm-256color", "PYTHONPATH": str(ROOT), **environment}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.monitor.dashboard.board_in_terminal", "1", str(log)],
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
def terminal(tmp_path: Path, **environment: str) -> Iterator[Terminal]:
    board = Terminal(tmp_path / "log", **environment)
    try:
        yield board
    finally:
        if board.process.poll() is None:
            board.process.kill()
            board.process.wait()
        if board.open:
            board.hang_up()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_signals_end_it_cleanly(tmp_path: Path, number: signal.Signals) -> None:
    """Exit 0, the feed stopped, no traceback, the terminal given back (cursor shown again)."""
    with terminal(tmp_path) as board:
        assert b"no alarm" in board.read(20, until=b"no alarm")
        board.process.send_signal(number)
        code, said, sent = board.wait()
    assert (code, said) == (0, "feed stopped")
    assert b"Traceback" not in sent
    assert b"\x1b[?25h" in sent
    assert b"\x1b[?1049l" in sent


def test_a_lost_terminal_ends_it(tmp_path: Path) -> None:
    """The other end of the line is gone: it must neither spin nor write a traceback."""
    with terminal(tmp_path) as board:
        assert b"no alarm" in board.read(20, until=b"no alarm")
        board.hang_up()
        code, said, _ = board.wait()
    assert (code, said) == (0, "feed stopped")


def test_no_colour_sends_none(tmp_path: Path) -> None:
    """With NO_COLOR not one colour leaves the program, and words and marks still do."""
    with terminal(tmp_path, NO_COLOR="1") as board:
        sent = board.read(20, until=b"no alarm") + board.read(0.5)
        board.type(b"q")
        code, said, _ = board.wait()
    assert (code, said) == (0, "feed stopped")
    assert b"no alarm" in sent
    for numbers in re.findall(rb"\x1b\[([0-9;]*)m", sent):
        # 30-37, 90-97, 38, 40-47, 48, 100-107 are colours; 39 and 49 are the terminal's own.
        codes = [int(number) for number in numbers.split(b";") if number]
        colours = [c for c in codes if 30 <= c <= 38 or 40 <= c <= 48 or 90 <= c <= 107]
        assert not colours, numbers


def test_bytes_a_second_stay_within_the_budget(tmp_path: Path) -> None:
    """At one snapshot a second, 256 colours, 100x30: at most 2 kB/s.

    The chart's column takes 240 s at this width; one redraw of it is added in its share.
    """
    seconds = 6
    with terminal(tmp_path) as board:
        board.read(20, until=b"no alarm")
        board.read(2)
        figures = len(board.read(seconds)) / seconds
        board.type(b"v")
        chart = len(board.read(0.8))
        board.type(b"q")
        board.wait()
    assert figures > 0, "nothing moved: the test would prove nothing"
    assert figures + chart / 240 <= 2000
    assert chart <= 20_000
