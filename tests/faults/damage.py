"""Files that are not what was written: torn at a byte of the last commit, a bit turned anywhere."""

from __future__ import annotations

import random
import shutil
import time
import zlib
from pathlib import Path

from replay.capture import open_capture
from replay.seal import FRAME_BYTES
from replay.segments import segments
from tests.faults.recorder import Recorder, check
from tests.faults.result import Result

#: Bytes of the shortest line there is, a tick: so many rows stand in a frame at most.
_SHORTEST_ROW = 48


def _record(directory: Path, rows: int) -> Recorder:
    """A record of more than a day: a sealed segment, and one that a kill left open."""
    recorder = Recorder(directory)
    recorder.start()
    recorder.listen(60.0, rows=rows)
    recorder.kill()
    return recorder


def _goes_on(directory: Path, recorder: Recorder, said: list[str], back: list[float]) -> None:
    again = Recorder(directory, recorder.uptime, boot=recorder.boot)
    began = time.monotonic()
    again.start()
    if not again.listen(20.0, rows=1):
        said.append("did not come back")
    back.append(time.monotonic() - began)
    again.kill()
    said += again.said


def torn_tails(folder: Path, every: int = 1) -> Result:
    """A write that was never acknowledged is there in part: cut at each byte of it."""
    recorder = _record(folder / "torn", 4000)
    last = segments(folder / "torn")[-1]
    data = last.path.read_bytes()
    acknowledged = dict(recorder.acknowledged)
    ends = [at + 1 for at, byte in enumerate(data) if byte == 0x0A]
    # the end of the last acknowledged line, and what came to be behind it
    start = ends[min(acknowledged.get(last.number, 0), len(ends) - 1)]
    tail = data[start:] or b'{"n":99999,"k":"reading","t":1.5,"d":"shunt","v":[["house","bank_v'
    back: list[float] = []
    said: list[str] = []
    runs = lost = wrong = 0
    for cut in range(0, len(tail) + 1, every):
        copy = folder / "torn-copy"
        shutil.copytree(folder / "torn", copy)
        (copy / last.path.name).write_bytes(data[:start] + tail[:cut])
        _goes_on(copy, recorder, said, back)
        found = check(copy, acknowledged)
        lost, wrong, runs = max(lost, found.lost), max(wrong, found.wrong), runs + 1
        shutil.rmtree(copy)
    rows = recorder.rows
    return Result("torn tail, cut at each byte", runs, rows, lost, wrong, back, tuple(said))


def bit_flips(folder: Path, runs: int, seed: int = 6) -> Result:
    """One bit of one file: what it held is lost with its line or its frame, and nothing is wrong.

    A header is one line: with it goes the segment, until somebody repairs it. Those are left out
    here and told apart by the reader; the index and the kept state are made again.
    """
    chance = random.Random(seed)
    recorder = _record(folder / "flips", 4000)
    back: list[float] = []
    said: list[str] = []
    lost = wrong = worst = 0
    for _ in range(runs):
        copy = folder / "flips-copy"
        shutil.copytree(folder / "flips", copy)
        names = sorted(path for path in copy.iterdir() if path.stat().st_size > 100)
        victim = chance.choice(names)
        data = bytearray(victim.read_bytes())
        data[chance.randrange(_behind_header(victim, data), len(data))] ^= 1 << chance.randrange(8)
        victim.write_bytes(bytes(data))
        _goes_on(copy, recorder, said, back)
        found = check(copy, recorder.acknowledged)
        lost, wrong, worst = lost + found.lost, max(wrong, found.wrong), max(worst, found.lost)
        shutil.rmtree(copy)
    if worst > FRAME_BYTES // _SHORTEST_ROW:
        said.append(f"one bit cost {worst} rows, more than a frame")
    note = f"in all, at most {worst} at once: a row, or a frame of a sealed day"
    rows = recorder.rows
    return Result("one bit turned in any file", runs, rows, lost, wrong, back, tuple(said), note)


def _behind_header(path: Path, data: bytearray) -> int:
    if ".capture" not in path.name:
        return 0
    open_capture(path)
    if path.suffix == ".gz":
        inflate = zlib.decompressobj(wbits=31)
        inflate.decompress(bytes(data))
        return len(data) - len(inflate.unused_data)
    return data.index(b"\n") + 1
