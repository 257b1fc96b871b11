"""A recorder in a process of its own that can be killed, and the check of what it left.

The child runs a real live feed in made time, as fast as the machine can, with one device whose
figures follow from the time of their row: so every row proves itself. After each commit it tells,
through a pipe, up to which row everything is on disk: that is what it has acknowledged. Whatever
happens to it, every acknowledged row must be there afterwards, and none may be wrong.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import select
import signal
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, NamedTuple

from adapters.adapter import Values
from adapters.reading import Channel, Quantity, Reading
from monitor.config import parse_config
from monitor.live import Live
from replay import writer as writer_module
from replay.capture import CaptureError, open_capture
from replay.segments import segments
from tests.monitor.recordings import BANK_TOML
from tests.monitor.virtual_time import run_virtual

#: A quarter of an hour before midnight, UTC: every record has a day's end in it.
WALL: Final = 1_700_006_400.0 - 900.0
#: Seconds from one reading to the next, so that a day passes in a second or two.
PERIOD: Final = 30.0
_TOML: Final = f"""\
{BANK_TOML}
[devices.shunt]
adapter = "scripted"
period_seconds = {PERIOD}

[history]
directory = "record"
keep_days = 10
"""
CONFIG: Final = parse_config(_TOML, "coach.toml")


def figures(seconds: float) -> tuple[float, float]:
    """What the device says at a moment, and at no other."""
    whole = int(seconds * 1000)
    return 12.0 + whole % 1009 / 1000.0, 5.0 * (whole // 1009 % 7) - 15.0


class Device:
    """Answers by the feed's own time."""

    name = "shunt"
    period_seconds = PERIOD

    def __init__(self) -> None:
        self.now: Callable[[], float] = lambda: 0.0

    async def open(self) -> None: ...

    async def poll(self) -> Values:
        volts, amps = figures(self.now())
        return (
            (Channel("house", Quantity.BANK_VOLTS), volts),
            (Channel("house", Quantity.BANK_AMPS), amps),
        )

    async def close(self) -> None: ...


class Acknowledged(NamedTuple):
    """Every row up to this number of this segment is on disk, said the recorder."""

    segment: int
    row: int


@dataclass
class Recorder:
    """One record that a child writes into, killed and started again."""

    directory: Path
    uptime: float = 50.0
    boot: int = 1
    acknowledged: dict[int, int] = field(default_factory=dict)
    #: From each start until the first row of it was on disk, seconds of real time.
    back: list[float] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    child: int = 0
    _pipe: int = -1
    _began: float = 0.0
    _rest: bytes = b""

    @property
    def rows(self) -> int:
        """So many were acknowledged."""
        return sum(self.acknowledged.values())

    def start(self, days: float = 1000.0) -> None:
        """A child that records for so many days of made time."""
        here, there = os.pipe()
        self._began = time.monotonic()
        self._rest = b""
        child = os.fork()
        if child == 0:
            os.close(here)
            _be_the_child(self.directory, self.uptime, f"start {self.boot}", there, days)
        os.close(there)
        self.child, self._pipe = child, here

    def listen(self, seconds: float, rows: int | None = None) -> bool:
        """Hear what is acknowledged for so long, or until so many more rows were; whether the
        child still lives."""
        end = time.monotonic() + seconds
        wanted = None if rows is None else self.rows + rows
        while (left := end - time.monotonic()) > 0 and (wanted is None or self.rows < wanted):
            ready, _, _ = select.select([self._pipe], [], [], left)
            if ready and not self._hear():
                return False
        return True

    def _hear(self) -> bool:
        data = os.read(self._pipe, 65536)
        *lines, self._rest = (self._rest + data).split(b"\n")
        for line in lines:
            word, *rest = line.decode().split(" ")
            if word == "ack":
                segment, row, uptime = int(rest[0]), int(rest[1]), float(rest[2])
                if self._began:
                    self.back.append(time.monotonic() - self._began)
                    self._began = 0.0
                self.acknowledged[segment] = max(row, self.acknowledged.get(segment, 0))
                self.uptime = max(self.uptime, uptime)
            else:
                self.said.append(line.decode())
        return bool(data)

    def kill(self, number: int = signal.SIGKILL) -> None:
        """End the child, and hear what it said up to then."""
        with contextlib.suppress(ProcessLookupError):
            os.kill(self.child, number)
        while self._hear():
            pass
        os.close(self._pipe)
        os.waitpid(self.child, 0)
        self.child = 0
        # later than whatever was on disk without having been told
        self.uptime += 65.0


def _be_the_child(directory: Path, uptime: float, boot: str, pipe: int, days: float) -> None:
    status = 1
    try:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        _record(directory, uptime, boot, pipe, days)
        status = 0
    except BaseException as error:
        os.write(pipe, f"failed {type(error).__name__} {error}\n".encode())
    finally:
        sys.stdout.flush()
        os._exit(status)


def _record(directory: Path, uptime: float, boot: str, pipe: int, days: float) -> None:
    committed = writer_module.CaptureWriter.commit

    async def main() -> None:
        loop = asyncio.get_running_loop()
        began = loop.time()

        def up() -> float:
            return uptime + loop.time() - began

        def tell(self: writer_module.CaptureWriter) -> bool:
            whole = committed(self)
            if whole:
                number = int(self.path.name.split("-")[0])
                os.write(pipe, f"ack {number} {self.last} {up()!r}\n".encode())
            return whole

        writer_module.CaptureWriter.commit = tell  # type: ignore[method-assign]
        device = Device()
        live = Live(
            CONFIG,
            history_path=directory,
            adapters=[device],
            monotonic=up,
            wall=lambda: WALL + up(),
            boot=boot,
        )
        device.now = live.now
        acquiring = asyncio.create_task(live.acquire())
        await asyncio.sleep(days * 86400.0)
        acquiring.cancel()
        await asyncio.gather(acquiring, return_exceptions=True)

    run_virtual(main())


class Found(NamedTuple):
    """Of what was acknowledged: rows lost; of what is there: rows wrong."""

    acknowledged: int
    lost: int
    wrong: int


def check(directory: Path, acknowledged: dict[int, int]) -> Found:
    """Read the whole record as anybody would, against what was acknowledged.

    A segment that was thinned on purpose is checked by its means being possible, no more.
    """
    lost = wrong = total = 0
    there = {segment.number: segment for segment in segments(directory)}
    for number, rows in acknowledged.items():
        total += rows
        segment = there.get(number)
        try:
            capture = open_capture(segment.path) if segment is not None else None
        except CaptureError:
            capture = None
        if capture is None:
            lost += rows
            continue
        if (capture.header.segment or {}).get("grade", "full") != "full":
            continue
        found = 0
        for value in capture.recorded():
            found += 1
            if isinstance(value, Reading):
                given = tuple(figure for _, figure in value.values)
                wrong += given != figures(value.seconds)
        lost += max(0, rows - found)
    return Found(total, lost, wrong)
