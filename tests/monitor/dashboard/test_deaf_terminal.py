"""Told to end while nobody reads the terminal: gone in time, everything kept as on any other end.

Real pseudo-terminals whose other end is left unread, and a pipe that nobody reads.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Final

import pytest

from tests.monitor.dashboard.pseudo_terminal import ROOT, Terminal, terminal
from tests.monitor.recordings import BANK_TOML

#: The program must be gone so soon after it was told, seconds.
GONE: Final = 5.0
#: Keys that each have much of the screen drawn anew: more than the library queues (30 writes).
KEYS: Final = b"i" * 60

SIGNALS: Final = [signal.SIGTERM, pytest.param(signal.SIGHUP, marks=pytest.mark.slow)]


def homes(folder: Path) -> dict[str, str]:
    """Everything of a user's, here; with the cautions read."""
    names = {f"XDG_{kind}_HOME": str(folder) for kind in ("STATE", "CONFIG", "DATA", "CACHE")}
    mark = folder / "ampwright" / "cautions-read"
    mark.parent.mkdir(parents=True, exist_ok=True)
    mark.touch()
    return {"HOME": str(folder), "XDG_RUNTIME_DIR": str(folder), **names}


def coach(folder: Path, more: str = "") -> Path:
    """A configuration whose shunt is a recording that comes with the program."""
    played = ROOT / "replay" / "captures" / "pinewater.capture.gz"
    path = folder / "coach.toml"
    shunt = f'adapter = "replay"\ncapture = "{played}"\ndevice = "shunt"\n'
    path.write_text(f"{BANK_TOML}{more}[sources.shore]\n[devices.shunt]\n{shunt}")
    return path


def fill(line: int) -> None:
    """Write into it until it takes not one byte more."""
    os.set_blocking(line, False)
    size = 65536
    while size:
        try:
            os.write(line, b" " * size)
        except BlockingIOError:
            size //= 2


def deafen(board: Terminal) -> None:
    """Fill the unread terminal, and have so much drawn that the program waits for it to be read."""
    line = os.open(f"/proc/{board.process.pid}/fd/2", os.O_WRONLY | os.O_NOCTTY | os.O_NONBLOCK)
    fill(line)
    os.close(line)
    for key in KEYS:
        board.type(bytes([key]))
        time.sleep(0.02)  # typed as a person would, not taken together
    used = -1.0
    while used != (used := board.cpu_seconds()):
        time.sleep(0.3)  # the program's own time: it goes on until it is held up


def told(board: Terminal, number: signal.Signals) -> float:
    """Seconds until it is gone, and nobody reads what it says meanwhile."""
    began = time.monotonic()
    board.process.send_signal(number)
    board.process.wait(20)
    return time.monotonic() - began


def verified(path: Path, folder: Path) -> str:
    """What `capture verify` finds amiss; empty for nothing."""
    done = subprocess.run(
        [sys.executable, "-m", "monitor.cli", "capture", "verify", str(path)],
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT), **homes(folder)},
    )
    return done.stderr if done.returncode else ""


@pytest.mark.parametrize("number", SIGNALS)
def test_a_played_recording_ends(tmp_path: Path, number: signal.Signals) -> None:
    module = ["monitor.cli", "demo", "--rate", "600"]
    with terminal(tmp_path, module=module, **homes(tmp_path)) as board:
        board.read(20, until=b"charged")
        deafen(board)
        took = told(board, number)
        assert board.process.returncode == 0, "not by the ordinary way out"
        assert b"Traceback" not in board.read(0.2)
        assert board.restored, "the line is set as it was"
    assert took < GONE, f"{took:.1f} s"


@pytest.mark.parametrize("number", SIGNALS)
@pytest.mark.parametrize("history", [False, pytest.param(True, marks=pytest.mark.slow)])
def test_what_devices_said_is_sealed(tmp_path: Path, number: signal.Signals, history: bool) -> None:
    """As a capture of its own, and as the record that the configuration keeps."""
    kept = tmp_path / ("history" if history else "run.capture")
    config = coach(tmp_path, '[history]\ndirectory = "history"\n' if history else "")
    words = [] if history else ["--capture", str(kept)]
    module = ["monitor.cli", "watch", "--config", str(config), *words]
    with terminal(tmp_path, module=module, **homes(tmp_path)) as board:
        board.read(20, until=b"charged")
        deafen(board)
        took = told(board, number)
        assert board.process.returncode == 0, "not by the ordinary way out"
    assert took < GONE, f"{took:.1f} s"
    assert verified(kept, tmp_path) == ""


def test_lines_into_a_pipe_that_nobody_reads(tmp_path: Path) -> None:
    """A pipe cannot be emptied: left at once, after what was recorded is on disk."""
    capture = tmp_path / "run.capture"
    config = str(coach(tmp_path))
    words = ["watch", "--plain", "--config", config, "--capture", str(capture)]
    out, into = os.pipe()
    fill(into)
    os.set_blocking(into, True)
    process = subprocess.Popen(
        [sys.executable, "-m", "monitor.cli", *words],
        stdin=subprocess.DEVNULL,
        stdout=into,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": str(ROOT), **homes(tmp_path)},
    )
    os.close(into)
    try:
        while not capture.exists() or capture.read_bytes().count(b"\n") < 4:
            assert process.poll() is None
            time.sleep(0.1)
        time.sleep(1.0)
        began = time.monotonic()
        process.terminate()
        assert process.wait(20) == 128 + signal.SIGTERM
        took = time.monotonic() - began
    finally:
        process.kill()
        process.wait()
        os.close(out)
    assert took < GONE, f"{took:.1f} s"
    assert verified(capture, tmp_path) == ""
