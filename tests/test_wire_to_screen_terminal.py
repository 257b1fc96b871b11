"""The program in a real terminal, as a person runs it: typed at a prompt, read off the screen.

The devices are those of `test_wire_to_screen.py`: real processes on real links. Beside the screen
there are the lines of `--plain`, the one look of `now`, and the recorder.
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
from pathlib import Path
from typing import IO, Final

from adapters.reading import Action, Command, LinkState
from replay.capture import open_capture
from tests.wire.banks_on_screen import shows_live, shows_stale, turn_to
from tests.wire.bench_process import AMPWRIGHT
from tests.wire.coach import Coach
from tests.wire.known import BANKS, HOUSE, RADIO, WINCH
from tests.wire.tmux import Terminal, needs_tmux
from tests.wire.waiting import BACK_SECONDS, END_SECONDS, SEEN_SECONDS, START_SECONDS, until

#: Exit status of `now`: 0 where all is well, 11 at an alarm of medium priority (its help says so).
NOTHING_WRONG: Final = 0
MEDIUM: Final = 11


@needs_tmux
def test_three_wires_at_80x24(coach: Coach, tmp_path: Path) -> None:
    """Figures, a person's keys, two devices unplugged and back, another size, and the way out."""
    capture = tmp_path / "run.capture"
    with Terminal(80, 24, coach.environment) as terminal:
        terminal.run(AMPWRIGHT, "watch", "--config", coach.config, "--capture", capture, "--raw")
        for bank in BANKS:
            shows_live(terminal, bank, START_SECONDS)
        for bank in (HOUSE, RADIO):
            coach.device(bank).kill()
        for bank in (HOUSE, RADIO):
            shows_stale(terminal, bank)
        shows_live(terminal, WINCH)
        terminal.until("!! MEDIUM")
        terminal.type("a")
        # The alarm names what the adapter found: which port is gone.
        terminal.until(
            "A device does not answer", SEEN_SECONDS, "not yet seen", "k seen it", "port-of-"
        )
        terminal.type("k")
        terminal.until("(seen)")
        terminal.type("x")
        for bank in (HOUSE, RADIO):
            coach.device(bank).start()
        for bank in BANKS:
            shows_live(terminal, bank, BACK_SECONDS)
        terminal.type("h")
        terminal.until("Help", SEEN_SECONDS, "what the keys do and what the words mean")
        terminal.type("x")
        turn_to(terminal, WINCH)
        terminal.resize(40, 15)
        small = terminal.until(f"{WINCH.amps} into the bank, {WINCH.volts}", SEEN_SECONDS, "q quit")
        assert max(map(len, small.split("\n"))) <= 40
        terminal.type("b")
        terminal.until(f"{RADIO.amps} into the bank, {RADIO.volts}, {RADIO.celsius}")
        terminal.resize(80, 24)
        shows_live(terminal, RADIO)
        terminal.type("q")
        terminal.ended_well()
    recorded_as_it_was(capture, tmp_path)


def recorded_as_it_was(capture: Path, folder: Path) -> None:
    """Sound, with what happened in it, and replayed alike at any rate and on the plain way."""
    verified = ampwright("capture", "verify", capture)
    assert (verified.returncode, verified.stderr) == (0, "")
    inputs = list(open_capture(capture).inputs())
    down = {value.device for value in inputs if isinstance(value, LinkState) and not value.up}
    assert down == {HOUSE.device, RADIO.device}
    (command,) = (value for value in inputs if isinstance(value, Command))
    assert command.action is Action.ACKNOWLEDGE
    frames = list(open_capture(capture).frames())
    assert {frame.device for frame in frames} == {bank.device for bank in BANKS}
    told = []
    for rate in ("max", "25"):
        out = folder / f"events-{rate}.jsonl"
        done = ampwright("replay", capture, "--rate", rate, "--events", out)
        assert (done.returncode, done.stderr) == (0, "")
        told.append(out.read_bytes())
    assert told[0] == told[1]
    for bank in (HOUSE, RADIO):
        assert b'"target": "%s"' % bank.device.encode() in told[0]
    assert b'"kind": "command"' in told[0]


def ampwright(*words: str | Path, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [AMPWRIGHT, *words],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=120,
        env={**os.environ, **environment},
    )


@needs_tmux
def test_a_frozen_device_at_40x15_and_the_signal_to_end(coach: Coach, tmp_path: Path) -> None:
    """A device that is there and says nothing more; then it does again; then the program is told
    to end, and gives the terminal back with everything recorded."""
    capture = tmp_path / "run.capture"
    words = f"{WINCH.amps} into the bank, {WINCH.volts}, {WINCH.celsius}"
    with Terminal(40, 15, coach.environment) as terminal:
        terminal.run(AMPWRIGHT, "watch", "--config", coach.of(WINCH), "--capture", capture)
        terminal.until(words, START_SECONDS, "Float, ")
        coach.device(WINCH).freeze()
        seen = terminal.until("Stage not known now; was float.", SEEN_SECONDS, "no reading")
        assert WINCH.volts not in seen
        coach.device(WINCH).thaw()
        terminal.until(words, BACK_SECONDS, "Float, ")
        terminal.signal(signal.SIGTERM)
        terminal.ended_well()
    assert ampwright("capture", "verify", capture).returncode == 0


@needs_tmux
def test_hang_up_and_a_closed_terminal(coach: Coach, tmp_path: Path) -> None:
    """Neither leaves a program that spins on without a screen, nor a recording cut short."""
    first, second = tmp_path / "first.capture", tmp_path / "second.capture"
    with Terminal(60, 20, coach.environment) as terminal:
        terminal.run(AMPWRIGHT, "watch", "--config", coach.config, "--capture", first)
        terminal.until(HOUSE.volts, START_SECONDS)
        terminal.signal(signal.SIGHUP)
        terminal.ended_well()
        terminal.run(AMPWRIGHT, "watch", "--config", coach.config, "--capture", second)
        terminal.until(HOUSE.volts, START_SECONDS)
        program = terminal.program()
    until(lambda: not Path(f"/proc/{program}").exists(), END_SECONDS, "the program has ended")
    for capture in (first, second):
        assert ampwright("capture", "verify", capture).returncode == 0


def test_plain_lines_through_a_pipe(coach: Coach) -> None:
    """A line for each change, no control code, and a clean end when told to."""
    process = subprocess.Popen(
        [AMPWRIGHT, "watch", "--plain", "--config", coach.of(HOUSE)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, **coach.environment},
    )
    assert process.stdout is not None
    try:
        lines = Lines(process.stdout)
        lines.until(f"house: {HOUSE.stage}", START_SECONDS)
        lines.until(f"{HOUSE.amps} out of the bank, {HOUSE.volts}, {HOUSE.celsius}", SEEN_SECONDS)
        coach.device(HOUSE).kill()
        lines.until("alarm MEDIUM !! house-meter: A device does not answer", SEEN_SECONDS)
        lines.until("house: no voltage: ", SEEN_SECONDS)
        coach.device(HOUSE).start()
        lines.until("house: voltage is read again", BACK_SECONDS)
        process.terminate()
        assert process.wait(END_SECONDS) == 0
        assert process.stderr is not None
        assert process.stderr.read() == b""
    finally:
        process.kill()
        process.wait()
    assert "\x1b" not in lines.text
    for line in lines.text.splitlines():
        assert re.match(r"\d\d:\d\d [a-zA-Z]", line), line


class Lines:
    """What comes out of a pipe, as far as it has come."""

    def __init__(self, pipe: IO[bytes]) -> None:
        os.set_blocking(pipe.fileno(), False)
        self._pipe = pipe
        self.text = ""

    def until(self, words: str, seconds: float) -> None:
        until(lambda: self._has(words), seconds, f"a line says {words!r}", lambda: self.text)

    def _has(self, words: str) -> bool:
        self.text += (self._pipe.read() or b"").decode()
        return words in self.text


def test_now_in_few_lines_and_its_exit_status(coach: Coach) -> None:
    """One look at three banks, then with a device gone: short enough for a narrow line, and its
    exit status tells a script how bad it is."""
    well = ampwright("now", "--config", coach.config, **coach.environment)
    assert (well.returncode, well.stderr) == (NOTHING_WRONG, ""), well.stdout
    short_enough(well.stdout)
    for bank in BANKS:
        assert bank.amps in well.stdout
    ascii_only = ampwright(
        "now", "--config", coach.of(WINCH), **coach.environment, PYTHONIOENCODING="ascii"
    )
    assert (ascii_only.returncode, ascii_only.stderr) == (NOTHING_WRONG, "")
    assert f"{WINCH.volts}, {WINCH.celsius.replace('°', '')}" in ascii_only.stdout
    coach.device(HOUSE).kill()
    ill = ampwright("now", "--config", coach.of(HOUSE), **coach.environment)
    assert (ill.returncode, ill.stderr) == (MEDIUM, ""), ill.stdout
    short_enough(ill.stdout)
    assert "house-meter: Device silent" in ill.stdout
    assert HOUSE.volts not in ill.stdout


def short_enough(text: str) -> None:
    lines = text.split("\n")
    assert lines.pop() == ""
    assert 0 < len(lines) <= 8
    assert max(map(len, lines)) <= 40
    assert "" not in lines
    assert len(text.encode()) < 1000
