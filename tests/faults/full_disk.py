"""A disk that fills up while it records, and is emptied again."""

from __future__ import annotations

import random
import time
from pathlib import Path

from tests.faults.disks import tmpfs
from tests.faults.recorder import Recorder, check
from tests.faults.result import Result

#: A header, a state and an index need some of it; the rest is a few thousand rows.
_KILOBYTES = 1500


def full_disk(folder: Path, runs: int, seed: int = 2) -> Result:
    """Somebody else's file fills the disk at some moment; the recorder lives on, and goes on
    writing when that file is gone. In half of the runs it is killed and started again while the
    disk is full, in half of those after a power cut, so that it needs a new segment."""
    chance = random.Random(seed)
    back: list[float] = []
    said: list[str] = []
    rows = lost = wrong = 0
    for run in range(runs):
        with tmpfs(folder / f"full-{run}", _KILOBYTES) as disk:
            recorder = Recorder(disk / "record")
            recorder.start()
            recorder.listen(20.0, rows=chance.randrange(1, 800))
            filler = disk / "somebody else's"
            if not _filled(recorder, filler):
                said.append("the recorder ended on a full disk, or went on writing into it")
            if run % 2:
                recorder.kill()
                recorder.boot += run // 2 % 2
                recorder.start()
                if not recorder.listen(0.2):
                    said.append("the recorder would not start on a full disk")
                filler.unlink()
            else:
                filler.unlink()
            began = time.monotonic()
            if not recorder.listen(20.0, rows=1):
                said.append("the recorder did not come back")
            back.append(time.monotonic() - began)
            recorder.kill()
            found = check(disk / "record", recorder.acknowledged)
            rows += found.acknowledged
            lost, wrong = max(lost, found.lost), max(wrong, found.wrong)
            said += recorder.said
    return Result("disk full, then room again", runs, rows, lost, wrong, back, tuple(said))


def _filled(recorder: Recorder, path: Path) -> bool:
    """Fill the disk until nothing more is acknowledged; whether it came to that, with the recorder
    alive. What the recorder itself lets go of meanwhile (a half file) is filled as well."""
    for _ in range(20):
        _fill(path)
        if not recorder.listen(0.1):
            return False
        before = recorder.rows
        if not recorder.listen(0.2):
            return False
        if recorder.rows == before:
            return True
    return False


def _fill(path: Path) -> None:
    try:
        with path.open("ab", buffering=0) as file:
            while file.write(b"x" * 4096):
                pass
    except OSError:
        return
