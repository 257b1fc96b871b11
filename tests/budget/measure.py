"""`make budget`: what the service and an attached screen cost, each row beside its target.

Real processes: two devices on the wire read once a second, `ampwright serve` that records them
while they charge (rows are committed every ten seconds then), `ampwright watch` attached in a
pseudo-terminal. CPU is what the kernel charged the process; a busy machine makes it slower, hardly
dearer. Writes are sectors of a loop device with ext4 of its own where that can be made (root), else
what the kernel counts for the process, which leaves out the file system's own journal.

Exit status 0 where every row was measured, whether it keeps its target or not.
"""

from __future__ import annotations

import argparse
import contextlib
import fcntl
import math
import os
import platform
import pty
import random
import re
import select
import struct
import subprocess
import sys
import tempfile
import termios
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from monitor.service.caller import look
from tests.wire.bench_process import AMPWRIGHT, BenchProcess
from tests.wire.known import HOUSE, WINCH, KnownBank
from tests.wire.waiting import START_SECONDS, until

COLUMNS, ROWS, TERM = 100, 30, "xterm-256color"
#: A voltage with its digits, whatever stands between them and the unit.
VOLTS: Final = re.compile(rb"\d\d\.\d\d V")
#: The kernel counts sectors of 512 bytes whatever the device has.
SECTOR: Final = 512

#: Charging hard, so that rows are committed as often as they ever are.
BANKS: Final = (
    replace(HOUSE, figures="13.95,40.0,24.0", volts="13.95 V"),
    replace(WINCH, figures="27.90,12.0,25.0", volts="27.90 V"),
)


@dataclass(slots=True)
class Row:
    """One figure, None where it could not be measured, for the reason given."""

    what: str
    target: float
    unit: str
    figure: float | None = None
    how: str = ""

    def line(self) -> str:
        if self.figure is None:
            return f"| {self.what} | < {self.target:g} {self.unit} | not measured: {self.how} |"
        missed = " **missed**" if self.figure >= self.target else ""
        told = f"{self.figure:.3g} {self.unit}{missed}"
        how = f" ({self.how})" if self.how else ""
        return f"| {self.what} | < {self.target:g} {self.unit} | {told}{how} |"


@contextlib.contextmanager
def devices(folder: Path) -> Iterator[Path]:
    """Two devices, each read once a second; gives the configuration that reads them."""
    made: list[tuple[KnownBank, BenchProcess]] = []
    try:
        for bank in BANKS:
            device = BenchProcess.of(bank, folder)
            vary(bank, folder / f"{bank.bank}.csv")
            description = folder / f"{bank.device}.toml"
            text = description.read_text(encoding="utf-8")
            description.write_text(text.replace("period_seconds = 0.5", "period_seconds = 1"))
            device.start()
            made.append((bank, device))
        config = folder / "coach.toml"
        tables = (b.config + d.config(b.device, f"{b.device}.toml", b.bank) for b, d in made)
        config.write_text('[history]\ndirectory = "disk/record"\n' + "\n".join(tables) + "\n")
        yield config
    finally:
        for _, device in made:
            device.end()


def vary(bank: KnownBank, table: Path) -> None:
    """Figures that move as real ones do: a slow swing, and noise in the last digit."""
    volts, amps, celsius = map(float, bank.figures.split(","))
    noise, rows = random.Random(1), []
    for second in range(3600):
        swing = math.sin(second / 40.0) + noise.gauss(0.0, 0.2)
        figures = (f"{volts + 0.05 * swing:.2f}", f"{amps * (1.0 + 0.05 * swing):.1f}")
        rows.append(f"{second},{figures[0]},{figures[1]},{celsius + 0.1 * swing:.1f}\n")
    table.write_text(f"t_s,{bank.columns}\n" + "".join(rows), encoding="utf-8")


def cpu_seconds(pid: int) -> float:
    """What all its threads have run, to the nanosecond; ticks are too coarse."""
    threads = Path(f"/proc/{pid}/task").glob("*/schedstat")
    return sum(int(each.read_text().split()[0]) for each in threads) / 1e9


def resident_megabytes(pid: int) -> float:
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1]) * 1024 / 1e6
    raise RuntimeError("the kernel tells no VmRSS")


class Disk:
    """Where the record goes, and how much was written there."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.how = "by the process, without the file system's journal"
        self._loop = ""
        image, device = folder.with_suffix(".image"), ""
        folder.mkdir()
        try:
            with image.open("wb") as file:
                file.truncate(256 * 1024 * 1024)
            _run("mkfs.ext4", "-q", "-F", str(image))
            device = _run("losetup", "--find", "--show", str(image)).strip()
            _run("mount", device, str(folder))
            self._loop, self.how = Path(device).name, "ext4 of its own, by sectors"
        except (OSError, subprocess.CalledProcessError):
            if device:
                subprocess.run(["losetup", "--detach", device], check=False)

    def written(self, pid: int) -> int:
        if self._loop:
            return int(Path(f"/sys/block/{self._loop}/stat").read_text().split()[6]) * SECTOR
        for line in Path(f"/proc/{pid}/io").read_text().splitlines():
            if line.startswith("write_bytes:"):
                return int(line.split()[1])
        raise RuntimeError("the kernel counts no writes")

    def close(self) -> None:
        if self._loop:
            subprocess.run(["umount", str(self.folder)], check=False)
            subprocess.run(["losetup", "--detach", f"/dev/{self._loop}"], check=False)


def _run(*words: str) -> str:
    done = subprocess.run(words, check=True, capture_output=True, text=True)
    return done.stdout


class Screen:
    """`ampwright watch` in a pseudo-terminal that somebody reads."""

    def __init__(self, config: Path, environment: dict[str, str]) -> None:
        self.read = 0
        self._began = time.monotonic()
        self._text = b""
        pid, self._terminal = pty.fork()
        if pid == 0:
            os.execve(AMPWRIGHT, [str(AMPWRIGHT), "watch", "--config", str(config)], environment)
        self.pid = pid
        size = struct.pack("HHHH", ROWS, COLUMNS, 0, 0)
        fcntl.ioctl(self._terminal, termios.TIOCSWINSZ, size)

    def until_figures(self) -> tuple[float, float]:
        """Seconds from its start until volts were drawn, and those it was running of these."""
        while not VOLTS.search(self._text):
            self.drain(START_SECONDS, once=True)
        return time.monotonic() - self._began, cpu_seconds(self.pid)

    def drain(self, seconds: float, *, once: bool = False) -> None:
        """Read what is drawn for so long, or one piece of it."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            if not select.select([self._terminal], [], [], left)[0]:
                continue
            data = os.read(self._terminal, 65536)
            self.read += len(data)
            self._text = (self._text + data)[-200_000:]
            if once:
                return
        if once:
            raise TimeoutError(f"nothing drawn within {seconds:g} s")

    def close(self) -> None:
        os.write(self._terminal, b"q")
        with contextlib.suppress(OSError, TimeoutError):
            while True:
                self.drain(START_SECONDS, once=True)
        os.close(self._terminal)
        os.waitpid(self.pid, 0)


def measure(seconds: float, first: int) -> list[Row]:
    """Every row; `seconds` for each stretch, `first` starts of a screen."""
    cpu = Row("service, CPU of a core, two devices at 1 Hz", 0.3, "%")
    memory = Row("service, resident", 45.0, "MB")
    writes = Row("recording while charging, physical writes", 10.0, "MB/h")
    screen_cpu = Row("attached watch, CPU of a core", 1.0, "%")
    bytes_ = Row(f"attached watch, to a terminal {COLUMNS}x{ROWS}, 256 colours", 2.0, "kB/s")
    figure = Row("first figure on the screen after watch was started", 0.6, "s")
    rows = [cpu, memory, writes, screen_cpu, bytes_, figure]
    with tempfile.TemporaryDirectory(prefix="aw-") as name:
        folder = Path(name)
        disk = Disk(folder / "disk")
        mark = folder / "state" / "ampwright" / "cautions-read"
        mark.parent.mkdir(parents=True)
        mark.touch()
        environment = {
            **os.environ,
            "XDG_RUNTIME_DIR": name,
            "XDG_STATE_HOME": str(folder / "state"),
            "TERM": TERM,
        }
        for unwanted in ("NO_COLOR", "COLORTERM", "PYTHONUNBUFFERED"):
            environment.pop(unwanted, None)
        try:
            with devices(folder) as config:
                service = subprocess.Popen(
                    [AMPWRIGHT, "serve", "--config", config],
                    env=environment,
                    stderr=subprocess.DEVNULL,
                )
                try:
                    _measure_service(service.pid, folder, seconds, (cpu, memory, writes), disk)
                    _measure_screen(config, environment, seconds, (screen_cpu, bytes_))
                    took = sorted(_first_figure(config, environment) for _ in range(first))
                    figure.figure, worked = took[len(took) // 2]
                    figure.how = f"median of {first}, worst {took[-1][0]:.2f}; CPU {worked:.2f} s"
                except (OSError, AssertionError, RuntimeError) as error:
                    for row in rows:
                        row.how = (
                            row.how if row.figure is not None else " ".join(str(error).split())
                        )
                finally:
                    service.terminate()
                    service.wait(30)
        finally:
            disk.close()
    return rows


def _measure_service(
    pid: int, folder: Path, seconds: float, rows: tuple[Row, Row, Row], disk: Disk
) -> None:
    """Nobody watches meanwhile."""
    cpu, memory, writes = rows
    path = folder / "ampwright" / "socket"
    until(path.is_socket, START_SECONDS, "the service listens")
    until(lambda: all(b.volts.figure for b in look(path)[1].banks), START_SECONDS, "it reads")
    time.sleep(10.0)  # what is done once at the start is over
    os.sync()
    spent, written, began = cpu_seconds(pid), disk.written(pid), time.monotonic()
    time.sleep(seconds)
    took = time.monotonic() - began
    cpu.figure = 100.0 * (cpu_seconds(pid) - spent) / took
    cpu.how = f"{cpu_seconds(pid) - spent:.2f} s in {took:.0f} s"
    memory.figure = resident_megabytes(pid)
    os.sync()
    writes.figure = (disk.written(pid) - written) / 1e6 / took * 3600.0
    writes.how = disk.how


def _measure_screen(
    config: Path, environment: dict[str, str], seconds: float, rows: tuple[Row, Row]
) -> None:
    cpu, bytes_ = rows
    screen = Screen(config, environment)
    screen.until_figures()
    screen.drain(5.0)
    spent, read, began = cpu_seconds(screen.pid), screen.read, time.monotonic()
    screen.drain(seconds)
    took = time.monotonic() - began
    cpu.figure = 100.0 * (cpu_seconds(screen.pid) - spent) / took
    cpu.how = f"{cpu_seconds(screen.pid) - spent:.2f} s in {took:.0f} s"
    bytes_.figure = (screen.read - read) / 1e3 / took
    screen.close()


def _first_figure(config: Path, environment: dict[str, str]) -> tuple[float, float]:
    screen = Screen(config, environment)
    took = screen.until_figures()
    screen.close()
    return took


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=120.0, help="of each stretch")
    parser.add_argument("--first", type=int, default=5, help="starts of a screen")
    arguments = parser.parse_args()
    rows = measure(arguments.seconds, arguments.first)
    cores, load = os.cpu_count(), os.getloadavg()[0]
    print(f"{platform.machine()}, {cores} cores, load {load:.1f}; {TERM}, {COLUMNS}x{ROWS}\n")
    print("| what | target | measured |\n|---|---|---|")
    for row in rows:
        print(row.line())
    return 0 if all(row.figure is not None for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
