"""A board whose clock wakes in 2020, is set, jumps a year ahead and comes back an hour early.

The real command under libfaketime, which changes the wall clock and leaves the steady one alone.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

from monitor.history.days import read_days, read_segments
from monitor.history.entries import reindex
from monitor.history.index import INDEX_NAME, everything, opened
from replay.capture import open_capture, verify
from replay.segments import segments
from tests.faults.result import Result, Skipped
from tests.monitor.recordings import BANK_TOML, small_capture

_PLACES = (
    "/usr/lib/x86_64-linux-gnu/faketime/libfaketime.so.1",
    "/usr/lib/aarch64-linux-gnu/faketime/libfaketime.so.1",
    "/usr/lib/arm-linux-gnueabihf/faketime/libfaketime.so.1",
    "/usr/lib/faketime/libfaketime.so.1",
)
_YEAR_2020 = 1_577_836_800.0
_DAY = 86_400.0
#: Seconds of real time between two steps, and offsets of the wall clock from the real one.
_EACH = 4.0


def clock_steps(folder: Path) -> Result:
    library = next((place for place in _PLACES if Path(place).exists()), None)
    if library is None:
        raise Skipped("libfaketime is not installed")
    folder.mkdir(parents=True, exist_ok=True)
    config, offset = folder / "coach.toml", folder / "offset"
    config.write_text(
        f'{BANK_TOML}[devices.shunt]\nadapter = "replay"\n'
        f'capture = "{small_capture(folder, 4000)}"\ndevice = "shunt"\nrate = 60\n'
        '[history]\ndirectory = "record"\n'
    )
    steps = (_YEAR_2020 - time.time(), 0.0, 400 * _DAY, -3600.0)
    _set(offset, steps[0])
    environment = os.environ | {
        "LD_PRELOAD": library,
        "FAKETIME_TIMESTAMP_FILE": str(offset),
        "FAKETIME_NO_CACHE": "1",
        "FAKETIME_DONT_FAKE_MONOTONIC": "1",
    }
    began = time.monotonic()
    with subprocess.Popen(
        [Path(sys.executable).with_name("ampwright"), "record", "--config", str(config)],
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    ) as recording:
        for step in steps:
            _set(offset, step)
            time.sleep(_EACH)
        recording.send_signal(signal.SIGTERM)
        _, told = recording.communicate(timeout=30)
    seconds = time.monotonic() - began
    said = [] if recording.returncode == 0 else [f"status {recording.returncode}: {told}"]
    return _judged(folder / "record", seconds, time.time() + steps[-1], said)


def _set(path: Path, offset: float) -> None:
    new = path.with_suffix(".new")
    new.write_text(f"{offset:+.0f}\n")
    new.replace(path)


def _judged(directory: Path, seconds: float, now: float, said: list[str]) -> Result:
    """Everything is dated by the last step; nothing counted twice or not at all; no storm."""
    rows = 0
    moments: list[float] = []
    for segment in segments(directory):
        if not verify(segment.path).sound:
            said.append(f"{segment.path.name} is damaged")
        for value in open_capture(segment.path).inputs():
            rows += 1
            moments.append(value.seconds)
    if moments != sorted(moments):
        said.append("time ran backwards")
    for held in read_segments(directory):
        if held.wall_offset is None or held.last is None:
            said.append(f"segment {held.number} is not dated")
        elif abs(held.last + held.wall_offset - now) > seconds + 5.0:
            said.append(f"segment {held.number} is dated {held.day}")
    seen = sum(day.seen_seconds for day in read_days(directory))
    if not 0.5 * seconds < seen <= seconds:
        said.append(f"{seen:.0f} s counted of {seconds:.0f} s")
    with opened(directory / INDEX_NAME) as connection:
        alarms = connection.execute(
            "select count(*) from events where kind = 'alarm' and words like 'normal%'"
        ).fetchone()[0]
        kept = everything(connection)
    if alarms > 3:
        said.append(f"{alarms} alarms for three steps")
    if json.dumps(reindex(directory)) != json.dumps(kept):
        said.append("the index is not what the segments say")
    return Result("clock: 2020, today, +400 d, -1 h", 1, rows, 0, len(said), (), tuple(said))
