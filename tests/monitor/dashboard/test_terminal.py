"""In a real pseudo-terminal: hang-up, termination, no colour, and how much is sent."""

from __future__ import annotations

import os
import re
import signal
import time
from pathlib import Path

import pytest

from tests.monitor.dashboard.pseudo_terminal import terminal


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

    The chart's column takes 240 s at this width; one redraw of it is added in its share. The
    figures of every screen are in `screen_budget`.
    """
    seconds = 2
    with terminal(tmp_path) as board:
        board.read(20, until=b"no alarm")
        board.read(1.5)
        figures = len(board.read(seconds)) / seconds
        board.type(b"v")
        chart = len(board.read(0.8))
        pages = {}
        for key in "ud":
            board.type(key.encode())
            board.read(1.2)
            pages[key] = len(board.read(seconds))
        board.type(b"q")
        board.wait()
    assert figures > 0, "nothing moved: the test would prove nothing"
    assert figures + chart / 240 <= 2000
    assert chart <= 20_000
    assert pages["u"] > 0, "the account's figures move"
    for key, sent in pages.items():
        # One snapshot more may fall into the time that was measured.
        assert sent <= 2000 * (seconds + 1), key


@pytest.mark.slow
def test_suspended_and_resumed_it_goes_on(tmp_path: Path) -> None:
    """Stopped by the shell (Ctrl+Z sends the same signal) and taken up again."""
    with terminal(tmp_path) as board:
        assert b"no alarm" in board.read(20, until=b"no alarm")
        board.process.send_signal(signal.SIGSTOP)
        board.read(1.0)
        assert board.read(1.5) == b"", "stopped is silent"
        board.process.send_signal(signal.SIGCONT)
        assert board.read(10, until=b" V"), "figures move again"
        board.type(b"u")
        assert b"together" in board.read(10, until=b"together")
        board.type(b"q")
        code, said, sent = board.wait()
    assert (code, said) == (0, "feed stopped")
    assert b"Traceback" not in sent


@pytest.mark.slow
def test_a_storm_of_sizes_leaves_it_whole(tmp_path: Path) -> None:
    """A window dragged about, down to nothing: no traceback, and the screen is right at the end."""
    with terminal(tmp_path) as board:
        assert b"no alarm" in board.read(20, until=b"no alarm")
        sent = b""
        for turn in range(120):
            board.resize(1 + (turn * 37) % 120, 1 + (turn * 17) % 40)
            if turn % 10 == 0:
                board.type(b"uokrdgwx"[turn // 10 % 8 :][:1])
            sent += board.read(0.03)
        board.type(b"x")
        board.resize(100, 30)
        sent += board.read(3)
        board.type(b"q")
        code, said, last = board.wait()
    assert (code, said) == (0, "feed stopped")
    assert b"Traceback" not in sent + last


@pytest.mark.slow
def test_a_lost_line_spins_on_no_screen(tmp_path: Path) -> None:
    """SSH drops while each screen is open: gone within seconds, no busy loop left behind."""
    for key in b"uokrdgwhj":
        with terminal(tmp_path) as board:
            board.read(20, until=b"no alarm")
            board.type(bytes([key]))
            board.read(0.7)
            began = time.monotonic()
            board.hang_up()
            code, said, _ = board.wait(8)
            assert (code, said) == (0, "feed stopped"), chr(key)
            assert time.monotonic() - began < 5
            assert not os.path.exists(f"/proc/{board.process.pid}/fd/0")
            (tmp_path / "log").unlink()
