"""What terminals do to a program: other kinds of them, junk on the line, storms of sizes, Ctrl-Z,
and one that takes nothing more. Real terminals; what takes long is marked slow."""

from __future__ import annotations

import itertools
import random
import sys
import time
from pathlib import Path

import pytest

from replay.capture import open_capture
from tests.monitor.dashboard.layouts import SHOWN, LaidOut, golden
from tests.monitor.dashboard.pseudo_terminal import ROOT, Terminal, terminal
from tests.monitor.dashboard.screen_text import press, running, settle, text
from tests.monitor.recordings import BANK_TOML
from tests.wire.tmux import Terminal as Tmux
from tests.wire.tmux import needs_tmux

#: Reports of a mouse and of a window that nobody asked for, whole, torn and absurd.
JUNK = (
    b"\x1b[<35;10;10M",
    b"\x1b[<0;999;999m",
    b"\x1b[<65;1;1M" * 20,
    b"\x1b[<;;M",
    b"\x1b[<0;1",
    b"\x1b[I\x1b[O",
    b"\x1b[200~pasted\x1b[201~",
    b"\x1b[?1;2c\x1b[>0;276;0c\x1b[12;40R",
    b"\xff\xfe\x80",
)


def _megabytes(board: Terminal) -> float:
    status = Path(f"/proc/{board.process.pid}/status").read_text().splitlines()
    return next(int(line.split()[1]) / 1024 for line in status if line.startswith("VmRSS"))


def test_junk_on_the_line_does_nothing(tmp_path: Path) -> None:
    """A torn report may swallow the key behind it, as on any terminal; the next one works."""
    with terminal(tmp_path) as board:
        board.read(20, until=b"no alarm")
        for junk in JUNK:
            board.type(junk)
            board.read(0.05)
        assert board.process.poll() is None
        board.read(0.5)
        board.type(b"x")
        board.read(0.3)
        board.type(b"u")
        assert b"together" in board.read(10, until=b"together")
        board.type(b"q")
        code, said, sent = board.wait()
    assert (code, said) == (0, "feed stopped")
    assert b"Traceback" not in sent


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["dumb", "linux", "vt100", "xterm", "screen", "unheard-of", ""])
@pytest.mark.parametrize("colour", ["", "1"])
def test_every_kind_of_terminal_shows_figures_and_ends(
    tmp_path: Path, kind: str, colour: str
) -> None:
    environment = {"TERM": kind} | ({"NO_COLOR": colour} if colour else {})
    with terminal(tmp_path, **environment) as board:
        sent = board.read(20, until=b"no alarm") + board.read(1.0)
        board.type(b"t")
        sent += board.read(0.5)
        board.type(b"q")
        code, said, last = board.wait()
    assert (code, said) == (0, "feed stopped")
    assert b"no alarm" in sent
    assert b"Traceback" not in sent + last
    assert kind == "dumb" or b"28.7" in sent


@pytest.mark.parametrize("turns", [6, pytest.param(100, marks=pytest.mark.slow)])
async def test_after_a_storm_of_sizes_it_is_as_freshly_started(turns: int) -> None:
    """On the live screen and on pages: whatever the sizes before, the frame is that of a start at
    the last one, as the layouts that are kept show it."""
    sizes = random.Random(7)
    feed = LaidOut()
    async with running(feed, (100, 30)) as (board, pilot):
        for name, keys in (("now", ""), ("account", "u"), ("bank", "k")):
            await press(pilot, keys)
            for _ in range(turns // 2):
                await pilot.resize_terminal(sizes.randint(20, 200), sizes.randint(6, 60))
            feed.put(SHOWN)  # a live feed speaks every second
            for size in ((80, 24), (40, 15)):
                await pilot.resize_terminal(*size)
                await settle(pilot)
                await settle(pilot)
                kept = golden(name, size).read_text(encoding="utf-8")
                assert text(board) + "\n" == kept, (name, size)


@pytest.mark.slow
def test_hundreds_of_sizes_in_seconds_and_it_still_answers(tmp_path: Path) -> None:
    sizes = random.Random(11)
    with terminal(tmp_path) as board:
        board.read(20, until=b"no alarm")
        sent = b""
        for _ in range(400):
            board.resize(sizes.randint(20, 200), sizes.randint(6, 60))
            sent += board.read(0.01)
        board.resize(100, 30)
        board.read(3)
        before = board.cpu_seconds()
        board.read(5)
        assert board.cpu_seconds() - before < 0.5, "it must come to rest"
        board.type(b"u")
        assert b"together" in board.read(10, until=b"together")
        board.type(b"q")
        code, said, last = board.wait()
    assert (code, said) == (0, "feed stopped")
    assert b"Traceback" not in sent + last


@needs_tmux
@pytest.mark.slow
def test_ctrl_z_gives_the_shell_and_fg_the_whole_screen(tmp_path: Path) -> None:
    with Tmux(80, 24, {"PYTHONPATH": str(ROOT)}) as shell:
        board = "tests.monitor.dashboard.board_in_terminal"
        shell.type("set -m")
        shell.press("Enter")
        shell.run(sys.executable, "-m", board, "1", tmp_path / "log")
        shell.until("no alarm", 20, "q quit")
        shell.press("C-z")
        shell.until("ready$", 10)
        assert "no alarm" not in shell.text().splitlines()[0], "the shell's own screen"
        shell.type("clear; fg; echo status=$?")
        shell.press("Enter")
        shell.until("no alarm", 10, "q quit", "AC charger", "charged", "stage")
        shell.type("u")
        shell.until("together", 10)
        shell.type("q")
        shell.ended_well()
    assert (tmp_path / "log").read_text() == "feed stopped"


def _coach(folder: Path) -> Path:
    """A configuration whose shunt is a recording that comes with the program."""
    capture = ROOT / "replay" / "captures" / "pinewater.capture.gz"
    path = folder / "coach.toml"
    shunt = f'adapter = "replay"\ncapture = "{capture}"\ndevice = "shunt"\n'
    path.write_text(f"{BANK_TOML}[sources.shore]\n[devices.shunt]\n{shunt}")
    return path


@pytest.mark.slow
def test_a_terminal_that_takes_nothing_stops_no_recording(tmp_path: Path) -> None:
    """Blocked for 20 s with screens of output waiting, then cut off: every second is recorded, no
    memory heaps up, the program ends and what it recorded is sound."""
    capture = tmp_path / "run.capture"
    module = ["monitor.cli", "watch", "--config", str(_coach(tmp_path)), "--capture", str(capture)]
    homes = {f"XDG_{kind}_HOME": str(tmp_path) for kind in ("STATE", "CONFIG", "DATA", "CACHE")}
    with terminal(tmp_path, module=module, HOME=str(tmp_path), **homes) as board:
        assert b"hands" in board.read(20, until=b"hands")
        board.type(b"y")
        board.read(6)
        before, used = _megabytes(board), board.cpu_seconds()
        for _ in range(40):
            board.type(b"t")  # each would send some eight kilobytes
        time.sleep(20)  # the terminal's own time: nothing is waited for
        assert board.process.poll() is None
        assert _megabytes(board) < before + 8
        assert board.cpu_seconds() - used < 5
        began = time.monotonic()
        board.hang_up()
        code, _, _ = board.wait(8)
        took = time.monotonic() - began
    assert code == 0
    assert took < 4, f"{took:.1f} s after the line was lost"
    moments = sorted({value.seconds for value in open_capture(capture).inputs()})
    assert moments[-1] - moments[0] > 20
    assert max(b - a for a, b in itertools.pairwise(moments)) < 3.5
