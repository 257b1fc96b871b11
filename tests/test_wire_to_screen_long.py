"""The long form of the way from the wire to the screen: `make wire`.

Shipped recordings over every wire at once, devices that die again and again at moments of chance,
a person who presses anything, and a recorder that is killed. Chance is seeded: what failed once
can be run again.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest

from adapters.reading import Quantity, Reading
from replay.capture import open_capture
from tests.monitor.recordings import shipped_path
from tests.wire.banks_on_screen import shows_live, shows_stale
from tests.wire.bench_process import AMPWRIGHT, BenchProcess
from tests.wire.coach import Coach, coach_in
from tests.wire.known import BANKS, LINES, MODBUS
from tests.wire.tmux import Terminal, needs_tmux
from tests.wire.waiting import BACK_SECONDS, END_SECONDS, SEEN_SECONDS, START_SECONDS, until

pytestmark = pytest.mark.slow

#: Every letter that does something on some page; `q` alone would leave.
KEYS: Final = "hawbvgtmcixnpkrdu"

#: What a recorder that dies may lose: the last commit interval, and what it had not yet read.
COMMIT_SECONDS: Final = 10.0

#: The text lines of `known.LINES` without what only a charger tells.
SHUNT_LINES: Final = LINES[: LINES.index('[[fields]]\nname = "doing"')]


@pytest.fixture
def coach(tmp_path: Path) -> Iterator[Coach]:
    coach = coach_in(tmp_path)
    yield coach
    coach.end()


def ampwright(*words: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run([AMPWRIGHT, *words], capture_output=True, text=True, timeout=300)


def test_shipped_recordings_over_every_wire_at_once(tmp_path: Path) -> None:
    """What was recorded of three coaches arrives unchanged, in order, to the last digit told."""
    coaches = {
        "pinewater": ("modbus-rtu", MODBUS, "flooded", 12, 230),
        "highfell": ("modbus-tcp", MODBUS, "agm", 24, 220),
        "saltmarsh": ("serial-lines", SHUNT_LINES, "lfp", 12, 280),
    }
    benches: list[BenchProcess] = []
    config = ""
    try:
        for name, (wire, description, chemistry, nominal, amp_hours) in coaches.items():
            path = tmp_path / f"{name}.toml"
            path.write_text(description, encoding="utf-8")
            more = ("--device", "shunt", "--rate", "60")
            bench = BenchProcess(shipped_path(name), path, wire, *more)
            benches.append(bench)
            bench.start()
            config += (
                f'[banks.{name}]\nchemistry = "{chemistry}"\nnominal_volts = {nominal}\n'
                f"amp_hours = {amp_hours}\n" + bench.config(f"{name}-shunt", path.name, name)
            )
        (tmp_path / "coach.toml").write_text(config, encoding="utf-8")
        out = tmp_path / "again.capture"
        done = ampwright("record", out, "--config", tmp_path / "coach.toml", "--for", "30")
        assert done.returncode == 0, done.stderr
    finally:
        for bench in benches:
            bench.end()
    for name in coaches:
        told = [tuple(figures.values()) for figures in shunt_figures(shipped_path(name), "shunt")]
        heard = [tuple(figures.values()) for figures in shunt_figures(out, f"{name}-shunt")]
        assert len(heard) >= 20
        assert len(set(heard)) >= 5, "nothing moved: the check would prove little"
        rows = iter(told)
        current = next(rows)
        for row in heard:
            while current != row:
                current = next(rows, ())
                assert current, f"{name}: {row} was never recorded, or not in this order"


def shunt_figures(path: Path, device: str) -> Iterator[dict[Quantity, float]]:
    """Volts, amps and degrees of one device, in the steps in which the wire tells them."""
    steps = {Quantity.BANK_VOLTS: 2, Quantity.BANK_AMPS: 3, Quantity.BANK_CELSIUS: 1}
    for value in open_capture(path).inputs():
        if isinstance(value, Reading) and value.device == device:
            figures = {channel.quantity: figure for channel, figure in value.values}
            yield {
                quantity: round(float(figures[quantity]), digits)
                for quantity, digits in steps.items()
                if quantity in figures
            }


@needs_tmux
def test_devices_that_die_again_and_again(coach: Coach, tmp_path: Path) -> None:
    """Twelve deaths at moments of chance: each seen, each mended, nothing used up on the way."""
    chance = random.Random(20260511)
    capture = tmp_path / "run.capture"
    with Terminal(100, 30, coach.environment) as terminal:
        terminal.run(AMPWRIGHT, "watch", "--config", coach.config, "--capture", capture, "--raw")
        for bank in BANKS:
            shows_live(terminal, bank, START_SECONDS)
        held = []
        for death in range(12):
            bank = BANKS[death % len(BANKS)]
            device = coach.device(bank)
            # The moment of death is what chance decides here; nothing is waited for.
            time.sleep(chance.uniform(0.0, 1.0))
            if chance.random() < 0.5:
                device.freeze()
            device.kill()
            shows_stale(terminal, bank)
            device.start()
            shows_live(terminal, bank, BACK_SECONDS)
            held.append(used(terminal.program()))
        terminal.type("q")
        terminal.ended_well()
    files, kilobytes = zip(*held, strict=True)
    assert max(files[3:]) <= max(files[:3]), "open files grow"
    assert max(kilobytes) < 1.5 * min(kilobytes), "memory grows"
    told = []
    for rate in ("max", "60"):
        out = tmp_path / f"{rate}.jsonl"
        done = ampwright("replay", capture, "--rate", rate, "--events", out)
        assert (done.returncode, done.stderr) == (0, "")
        told.append(out.read_bytes())
    assert told[0] == told[1]
    assert told[0].count(b'"kind": "link", "name": "down"') >= 12


def used(program: int) -> tuple[int, int]:
    """Open files, and kilobytes in memory."""
    status = Path(f"/proc/{program}/status").read_text()
    memory = next(line for line in status.splitlines() if line.startswith("VmRSS"))
    return len(os.listdir(f"/proc/{program}/fd")), int(memory.split()[1])


@needs_tmux
@pytest.mark.parametrize("size", [(100, 30), (80, 24), (60, 20), (40, 15)])
def test_a_person_who_presses_anything(coach: Coach, tmp_path: Path, size: tuple[int, int]) -> None:
    """Keys of chance while devices die and return and the terminal changes its size."""
    chance = random.Random(size[0])
    capture = tmp_path / "run.capture"
    with Terminal(*size, coach.environment) as terminal:
        terminal.run(AMPWRIGHT, "watch", "--config", coach.config, "--capture", capture)
        terminal.until("q quit", START_SECONDS)
        program = terminal.program()
        for turn_of in range(150):
            terminal.type(chance.choice(KEYS))
            if turn_of % 25 == 10:
                coach.device(chance.choice(BANKS)).kill()
            if turn_of % 25 == 20:
                coach.all_running()
            if turn_of % 30 == 29:
                terminal.resize(*chance.choice([(100, 30), (33, 9), (60, 20), size]))
            if turn_of % 10 == 9:
                close_list(terminal)
            assert "Traceback" not in terminal.text()
            assert terminal.program() == program
        terminal.resize(*size)
        close_list(terminal)
        terminal.type("q")
        terminal.ended_well()
    verified = ampwright("capture", "verify", capture)
    assert verified.returncode == 0, verified.stderr


def close_list(terminal: Terminal) -> None:
    """The command list takes letters as words: it is emptied, and its first line, taken by Enter,
    closes it."""

    def closed() -> bool:
        if "close this list" not in terminal.text():
            return True
        terminal.press("BSpace", 20)
        terminal.press("Enter")
        return False

    until(closed, SEEN_SECONDS, "the command list is closed", terminal.text)


@pytest.mark.parametrize("moment", [1.3, 4.7, 13.9])
def test_a_recorder_that_is_killed(coach: Coach, tmp_path: Path, moment: float) -> None:
    """What was on disk stays sound; at most the last commit interval is lost; the rest plays."""
    capture = tmp_path / "run.capture"
    process = subprocess.Popen(
        [AMPWRIGHT, "record", capture, "--config", coach.config],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        until(capture.exists, START_SECONDS, "the capture is begun")
        with pytest.raises(subprocess.TimeoutExpired):
            process.wait(moment)
    finally:
        process.send_signal(signal.SIGKILL)
        process.wait(END_SECONDS)
    mended = tmp_path / "mended.capture"
    assert ampwright("capture", "repair", capture, mended).returncode == 0
    assert ampwright("capture", "verify", mended).returncode == 0
    last = max(value.seconds for value in open_capture(mended).inputs())
    assert last >= moment - COMMIT_SECONDS
    played = ampwright("replay", mended, "--events", tmp_path / "events.jsonl")
    assert (played.returncode, played.stderr) == (0, "")
