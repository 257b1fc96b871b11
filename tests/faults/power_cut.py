"""The power fails: what is on the disk at that instant is all there is. And a card that fails.

The recorder is stopped in the middle of whatever it does, the file that is its disk is copied, and
the copy is mounted, which plays the file system's journal back as after a power cut.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import time
from pathlib import Path

from tests.faults.disks import abort, ext4, mounted
from tests.faults.recorder import Recorder, check
from tests.faults.result import Result


def power_cut(folder: Path, runs: int, seed: int = 3) -> Result:
    chance = random.Random(seed)
    back: list[float] = []
    said: list[str] = []
    rows = lost = wrong = 0
    with ext4(folder, "cut") as (image, disk):
        recorder = Recorder(disk / "record")
        recorder.start()
        recorder.listen(20.0, rows=1)
        for run in range(runs):
            recorder.listen(chance.uniform(0.02, 0.5))
            os.kill(recorder.child, signal.SIGSTOP)
            recorder.listen(0.05)
            copy = folder / f"cut-{run}.img"
            shutil.copyfile(image, copy)
            acknowledged = dict(recorder.acknowledged)
            os.kill(recorder.child, signal.SIGCONT)
            with mounted(copy, folder / f"after-{run}") as after:
                # It starts by itself on what is left, and all that was told is there before it.
                again = Recorder(after / "record", recorder.uptime + 60.0, boot=100 + run)
                began = time.monotonic()
                again.start()
                if not again.listen(20.0, rows=1):
                    said.append("did not come back after a power cut")
                back.append(time.monotonic() - began)
                again.kill()
                said += again.said
                found = check(after / "record", acknowledged)
            rows += found.acknowledged
            lost, wrong = max(lost, found.lost), max(wrong, found.wrong)
            copy.unlink()
        recorder.kill()
        said += recorder.said
    return Result("power cut (ext4 image)", runs, rows, lost, wrong, back, tuple(said))


def failing_card(folder: Path, runs: int, seed: int = 4) -> Result:
    """The file system turns read-only under the recorder; mounted anew it goes on.

    What was told before counts. While ext4 gives its journal up, the kernel may report a sync as
    done that is not (seen here with 6.18: syncs that overlap the remount return 0); rows of such a
    commit are told apart in the note.
    """
    chance = random.Random(seed)
    back: list[float] = []
    said: list[str] = []
    rows = lost = wrong = overlapping = 0
    for run in range(runs):
        name = f"card-{run}"
        with ext4(folder, name) as (image, disk):
            recorder = Recorder(disk / "record")
            recorder.start()
            recorder.listen(20.0, rows=chance.randrange(1, 2000))
            recorder.listen(0.01)
            acknowledged = dict(recorder.acknowledged)
            abort(disk)
            recorder.listen(0.1)
            before = recorder.rows
            if not recorder.listen(0.2):
                said.append("the recorder ended on a read-only disk")
            if recorder.rows != before:
                said.append("the disk was not read-only: this run proves nothing")
            recorder.kill()
            recorder.start()
            if not recorder.listen(0.3):
                said.append("the recorder would not start on a read-only disk")
            recorder.kill()
            said += recorder.said
        with mounted(image, folder / name) as disk:
            began = time.monotonic()
            again = Recorder(disk / "record", recorder.uptime, boot=2)
            again.start()
            if not again.listen(20.0, rows=1):
                said.append("did not come back after a failing card")
            back.append(time.monotonic() - began)
            again.kill()
            said += again.said
            found = check(disk / "record", acknowledged)
            more = check(disk / "record", recorder.acknowledged).lost - found.lost
        rows += found.acknowledged
        lost, wrong, overlapping = lost + found.lost, max(wrong, found.wrong), overlapping + more
        image.unlink()
    if lost:
        said.append(f"{lost} rows lost that were acknowledged before the disk failed")
    note = f"({overlapping} in syncs during which it turned)"
    name = "disk turns read-only (ext4 abort)"
    return Result(name, runs, rows, lost, wrong, back, tuple(said), note)
